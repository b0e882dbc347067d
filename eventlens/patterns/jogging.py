"""Jogging (inching): the motion is switched on again and again for moments too short to get anywhere.

Definition: a burst of at least `jog_burst` jogs, each a run shorter than `jog_longest_s` that the operator ended, with
pauses shorter than `jog_pause_s` between them and no longer run in between; either direction of the motion counts.
Single jogs are counted in the motion's counts, not here. A run that a device, the supply or a fault cut short is no
jog: see `drop_out` and the overload patterns for those; nor is one that is made by `chatter` or a common drop-out, nor
one while the other direction is on too (`opposed_directions`).

A burst is certain if enough of its jogs stay jogs, apart from their neighbours, when each time is off by the log's
uncertainty, if the step is fine enough to show every pause, and if the log does not lose records in pairs (a longer
run, or a pause, may be lost); otherwise possible.
Every jog is a full start for motor and contactor, at the current of a standstill: IEC 60947-4-1 calls inching
occasional up to 5 operations a minute and 10 in ten minutes (from memory).
Cost: one pass over the runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import limit
from eventlens.motion.kinds import JogParameters, is_jog
from eventlens.motion.near import seconds
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, moved
from eventlens.patterns._unasked import by_itself


@dataclass(frozen=True)
class Parameters(JogParameters):
    jog_pause_s: float = limit(
        2.0,
        "s",
        "common practice: the next jog follows within 1 to 2 s",
        "raising it joins separate bursts; lowering it breaks one burst into pieces that are too small to report",
    )
    jog_burst: float = limit(
        3.0,
        "jogs",
        "common practice: one or two short runs are ordinary positioning",
        "raising it reports long bursts only; lowering it reports every careful landing",
    )


SHOWS_PAUSES_S = 0.05
"""Step [s] up to which every press and pause of a quick hand, 0.1 s and more, shows (common practice)."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Bursts of jogs of one motion."""
    sure_length = moved(pl.col("duration_s"), context.uncertainty_s) < p.jog_longest_s
    sure_pause = (moved(pl.col("pause_s"), context.uncertainty_s) < p.jog_pause_s).fill_null(value=False)
    runs = context.runs_of(motion)
    before, after = seconds("start", pl.col("end").cum_max().shift(1)), seconds(pl.col("start").shift(-1), "end")
    other_on = (before < 0) | (after < 0)
    clear = (before >= context.uncertainty_s).fill_null(value=True) & (after >= context.uncertainty_s).fill_null(
        value=True
    )
    runs = runs.with_columns(
        clear=clear,
        jog=is_jog(p.jog_longest_s)
        & ~other_on.fill_null(value=False)
        & pl.lit(context.undisturbed(runs, motion))
        & ~pl.lit(by_itself(context, motion, runs)),
    )
    follows = pl.col("jog") & pl.col("jog").shift(1, fill_value=False) & (pl.col("pause_s") < p.jog_pause_s)
    burst = (~follows.fill_null(value=False)).cum_sum()
    runs = runs.select(
        *("start", "end", "direction", "duration_s", "pause_s", "start_row", "end_row", "jog", "clear"),
        burst=burst,
        first=~follows.fill_null(value=False),
    )
    jogs = runs.filter("jog")
    many = jogs["burst"].rle().struct.unnest().filter(pl.col("len") >= p.jog_burst)["value"]
    return (
        jogs.filter(pl.col("burst").is_in(many.implode()))
        .group_by("burst", maintain_order=True)
        .agg(
            pl.col("start").first(),
            pl.col("end").last(),
            measured=pl.len().cast(pl.Float64),
            sure=(sure_length & pl.col("clear") & (pl.col("first") | sure_pause)).sum(),
            direction=pl.when(pl.col("direction").n_unique() == 1).then(pl.col("direction").first()),
            rows=pl.concat_list("start_row", "end_row").list.explode(keep_nulls=False, empty_as_null=False),
        )
        .with_columns(
            # pauses and presses that a step hides would join or part bursts
            graded((pl.col("sure") >= p.jog_burst) & pl.lit(context.step_s <= SHOWS_PAUSES_S)),
            limit=pl.lit(p.jog_burst),
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    runs = context.runs_of(motion).filter("start_seen")
    jogs = runs.filter(is_jog(p.jog_longest_s)).height
    share = f", {100 * jogs / runs.height:.0f} % of all starts" if runs.height else ""
    return f"longest burst {extent(found)[1]:.0f} jogs; {jogs} single jogs{share}"


EXAMPLE = """
0.1 s
hoist.raise.command    ..####...###...####...###....
hoist.raise.contactor  ..####...###...####...###....
"""

PATTERN = Pattern(
    name="jogging",
    title="jogging",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor",), ("{motion}.*.command",)),
    severity="watch",
    why_severity="nothing is broken, but contactor tips, motor and brake wear several times faster",
    usually="a way of working, or a hook that creeps or swings and needs correcting",
    unit="jogs",
    look_back_s=60.0,
    settles_s=5.0,  # one that follows soon enough makes it longer
    exposure="start",
    finest=("jog_longest_s",),
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
