"""Kinds of runs that several patterns and counts share."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.limits import limit
from eventlens.motion.near import latest
from eventlens.motion.states import States


@dataclass(frozen=True)
class JogParameters:
    """What a jog is."""

    jog_longest_s: float = limit(
        1.0,
        "s",
        "common practice: the trade says 0.5 to 1 s",
        "raising it counts careful positioning as jogging; lowering it misses slow thumbs",
    )


_BY_HAND = pl.Series(["let_go", "reversed", "unknown"], dtype=schema.ENDING)


def is_jog(longest_s: float) -> pl.Expr:
    """Whether a run (schema.RUNS) is a jog: seen from start to end, shorter than longest_s [s], ended by the operator.

    A run that something else cut short is not a jog. Where the command is not logged the ending is unknown and the
    operator is assumed.
    """
    by_hand = pl.col("ending").is_in(_BY_HAND.implode())
    return pl.col("start_seen") & pl.col("end_seen") & (pl.col("duration_s") < longest_s) & by_hand


def of_motion(runs: pl.DataFrame, motion: str) -> pl.DataFrame:
    """The runs of one motion; the table itself where it holds no others, as for a hoist that travels by hand."""
    own = runs["motion"] == motion
    return runs if own.all() else runs.filter(own)


def of_last_ended(column: str) -> pl.Expr:
    """A column of the run, among those of one motion that began before (by start), that ended last.

    That is the run just before, but where an interlock fails and directions overlap.
    """
    return pl.when(pl.col("end") == pl.col("end").cum_max()).then(column).forward_fill().shift(1)


def never_confirmed(runs: pl.DataFrame, states: States, motion: str) -> pl.Series:
    """For each run of one motion, by start: the brake's confirmation was known to be off from start to end."""
    frame = latest(runs, pl.col("start"), states.off(f"{motion}.brake.released"), "unreleased", ("end",))
    return frame.select(
        (pl.col("brake_on").is_null() & (pl.col("unreleased_end") >= pl.col("end")))
        .fill_null(value=False)
        .alias("never_confirmed")
    ).to_series()
