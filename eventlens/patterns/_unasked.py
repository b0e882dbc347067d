"""Outputs that are on although nothing asks for them: those that stay on, and those that come by themselves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import polars as pl

from eventlens import schema, signals
from eventlens.limits import configure, limit
from eventlens.motion.near import latest, seconds
from eventlens.motion.runs import RunParameters
from eventlens.motion.spells import during, overlaps
from eventlens.patterns._base import Context, graded, moved
from eventlens.patterns._frozen import while_frozen
from eventlens.patterns._together import maybe_over, surely_over, together

UNASKED = ("start", "end", "certainty", "measured", "limit", "direction", "rows", "signal")
ALREADY_S = 0.1
"""A fast output that came earlier than this before a run was on already [s] (contactors close in 0.01 to 0.1 s)."""

LOST_IN_A_ROW = 3
"""So many outputs without a command, while it stands still, say that the log lost the command (common practice: a
single one is a fault of the machine)."""
SHOWS_GAPS_S = 0.05
"""Step [s] up to which a contactor that opens and closes again shows (common practice: 0.1 s and more)."""


def contactor_stuck_s() -> Any:
    """How long an output may stay on after its command [s]."""
    return limit(
        1.0,
        "s",
        "common practice: contactors open within 0.1 s, ramped drives hold their output for up to about a second",
        "raising it misses contactors that hang for a moment; lowering it reports drives with long ramps",
    )


def uncommanded_s() -> Any:
    """How long a command must stay off after its output came [s]."""
    return limit(
        0.05,
        "s",
        "common practice: scan times and the order of writing stay below it",
        "raising it forgives logs that write commands late; lowering it reports the order in which a log is written",
    )


@dataclass(frozen=True)
class UnaskedParameters:
    """The limits of both, for patterns that leave out what belongs to them."""

    contactor_stuck_s: float = contactor_stuck_s()
    uncommanded_s: float = uncommanded_s()


def by_itself(context: Context, motion: str, runs: pl.DataFrame) -> pl.Series:
    """For each run of a motion: its contactor came without a command, so that it says nothing of the work."""
    p = configure(UnaskedParameters, context.machine.limits)
    alone = uncommanded(context, motion, p.uncommanded_s)
    if context.step_s >= p.uncommanded_s:  # a press can hide between two records
        alone = alone.clear()
    if alone.is_empty():
        return pl.repeat(value=False, n=runs.height, dtype=pl.Boolean, eager=True)
    alone = alone.filter(pl.col("direction").is_not_null() & (pl.col("certainty") == "certain")).select(
        "start", "direction"
    )
    alone = alone.unique().with_columns(_alone=pl.lit(value=True))
    return runs.join(alone, on=["start", "direction"], how="left", maintain_order="left")["_alone"].fill_null(
        value=False
    )


def fast_already(context: Context, motion: str, runs: pl.DataFrame) -> pl.Series:
    """For each run of a motion: it began while the fast output stayed on unasked from before; the timer has no part."""
    p = configure(UnaskedParameters, context.machine.limits)
    both = pl.concat([stuck(context, motion, p.contactor_stuck_s), uncommanded(context, motion, p.uncommanded_s)])
    if both.is_empty():
        return during(runs, "start", both, -ALREADY_S, 0.0)
    fast = both.filter(pl.col("signal") == f"{motion}.fast.contactor")
    return during(runs, "start", fast, -ALREADY_S, 0.0)


def _answer_s(context: Context) -> float:
    """An output that comes no later than this after its command is an answer to it [s], as for the runs."""
    return configure(RunParameters, context.machine.limits).contactor_answer_s


def outputs(context: Context, motion: str) -> list[tuple[str, list[str], str | None]]:
    """(output, the commands that must be off, direction) of each output of a motion that can be judged."""
    ways = signals.MOTIONS[motion]
    rows: list[tuple[str, list[str], str | None]] = [
        (f"{motion}.{way}.contactor", [f"{motion}.{way}.command"], way) for way in ways
    ]
    rows.append((f"{motion}.fast.contactor", [f"{motion}.{way}.command" for way in ("fast", *ways)], None))
    return [row for row in rows if {row[0], *row[1]} <= context.carried]


def stuck(context: Context, motion: str, stuck_s: float) -> pl.DataFrame:
    """Outputs of a motion that stayed on after their commands (UNASKED), by start."""
    return context.once(
        ("stuck", motion, stuck_s),
        lambda: _joined(_stuck(context, motion, *row, stuck_s) for row in outputs(context, motion)),
    )


def _stuck(
    context: Context, motion: str, output: str, commands: list[str], direction: str | None, stuck_s: float
) -> pl.DataFrame:
    u = context.uncertainty_s
    on, answer = context.states.on(output), timedelta(seconds=_answer_s(context))
    coarse = context.step_s > SHOWS_GAPS_S  # pressed again, it may have opened and closed unseen
    idle = together(*(context.states.off(name) for name in commands)).drop("measured")
    long = together(on, idle, over_s=stuck_s - u)
    if long.is_empty():
        return _NO_OUTPUT
    on = on.filter(overlaps(on, long, 0.0))  # the others are not on for too long
    waits = together(on, idle)
    idle = idle.with_columns(start_seen=_begins(context, idle, commands), end_seen=pl.lit(value=True))
    waits = latest(waits, pl.col("start"), on, "own")
    waits = latest(waits, pl.col("start"), idle, "asked")
    # what came long after the last command was never asked for: that is another pattern; a command that is stamped just
    # after its answer is one all the same
    unasked = (pl.col("asked_start") < pl.col("own_start") - answer) & (moved(pl.col("measured"), -u) > 0)
    alone = unasked.any().over("own_start")
    long = waits.filter(~alone & pl.col("asked_start_seen") & maybe_over(pl.col("measured"), stuck_s, u))
    if long.is_empty():
        return _NO_OUTPUT
    return (
        long.group_by("own_start", maintain_order=True)
        .agg(
            pl.col("start").first(),
            pl.col("own_end").first().alias("end"),
            pl.col("measured").max(),
            again=(pl.col("asked_end") < pl.col("own_end")).any(),
            rows=pl.concat_list("asked_start_row", "start_row", "end_row", "own_end_row").list.explode(
                keep_nulls=False, empty_as_null=False
            ),
        )
        .with_columns(
            graded(surely_over(pl.col("measured"), stuck_s, u) & ~(pl.col("again") & pl.lit(coarse))),
            limit=pl.lit(stuck_s),
        )
        .pipe(_named, output, direction)
        .pipe(context.calm, motion)
    )


def _begins(context: Context, idle: pl.DataFrame, commands: list[str]) -> pl.Series:
    """For each row: it begins with a release that was seen."""
    seen = pl.concat([context.states.off(name).filter("start_seen").select("start") for name in commands])
    return idle.select(pl.col("start").is_in(seen["start"].implode())).to_series()


def uncommanded(context: Context, motion: str, least_s: float) -> pl.DataFrame:
    """Outputs of a motion that came without their command (UNASKED), by start."""
    return context.once(
        ("uncommanded", motion, least_s),
        lambda: _joined(
            _uncommanded(context, motion, output, commands[0], direction, least_s)
            for output, commands, direction in outputs(context, motion)
        ),
    )


def _uncommanded(
    context: Context, motion: str, output: str, command: str, direction: str | None, least_s: float
) -> pl.DataFrame:
    u, answer_s = context.uncertainty_s, _answer_s(context)
    on = context.states.on(output).filter("start_seen")
    frame = latest(on, pl.col("start"), context.states.off(command), "idle")
    frame = frame.with_columns(
        gap=seconds("start", "idle_start"),
        after=seconds("idle_end", "start"),
        measured=seconds("end", "start"),
    )
    through = pl.col("idle_end") >= pl.col("end")
    frame = frame.filter(
        maybe_over(pl.col("gap"), answer_s, u) & (through | (pl.col("after") >= least_s)) & (pl.col("measured") > 0)
    )
    if frame.is_empty():
        return _NO_OUTPUT
    # a command that stands still while its output goes on working is one that the log may have lost: how many runs
    # that takes depends on how surely every run before had its press
    unseen = while_frozen(context, motion, command, frame, LOST_IN_A_ROW)
    known = pl.lit(~unseen | (unseen.sum() < LOST_IN_A_ROW))
    return (
        frame.with_columns(
            graded(
                surely_over(pl.col("gap"), answer_s, u) & (through | surely_over(pl.col("after"), least_s, u)) & known
            ),
            limit=pl.lit(None, pl.Float64),
            rows=pl.concat_list("idle_start_row", "start_row", "end_row"),
        )
        .pipe(_named, output, direction)
        .pipe(context.calm, motion)
    )


def _named(frame: pl.DataFrame, output: str, direction: str | None) -> pl.DataFrame:
    return frame.with_columns(signal=pl.lit(output), direction=pl.lit(direction, schema.DIRECTION)).select(UNASKED)


_NO_OUTPUT = schema.OCCURRENCES.empty().select(UNASKED).with_columns(pl.col("certainty", "signal").cast(pl.String))


def _joined(parts: Iterable[pl.DataFrame]) -> pl.DataFrame:
    found = [part for part in parts if part.height]
    if not found:
        return _NO_OUTPUT
    return pl.concat([_NO_OUTPUT, *found], how="vertical_relaxed").sort("start", maintain_order=True)
