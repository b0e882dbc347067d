"""Idle too long: the machine stood still for so long that it must be inspected before it is used again.

Definition: no run of any motion for more than `idle_longest_s` within one unbroken stretch of the log, from the end of
the last run (or the beginning of the stretch) to the next run (or its end). What lies in a hole of the log is not
known and is never idle time. Certain where the record has a rhythm that proves the silence; possible otherwise.
Source: OSHA 29 CFR 1910.179(j)(4): idle for a month or more; ASME B30.16: longer rests ask for more.
Cost: one pass over the runs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.life.inspection import after_idle
from eventlens.limits import limit
from eventlens.motion.near import seconds
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded

DAY_S = 86400.0


@dataclass(frozen=True)
class Parameters:
    idle_longest_s: float = limit(
        30 * DAY_S,
        "s",
        "OSHA 29 CFR 1910.179(j)(4): idle for one month or more",
        "it is the interval after which your rules ask for an inspection before use",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Rests of the whole machine that were too long."""
    states = context.states.frame.select("signal", "segment", "start", "end")
    first = (pl.col("signal") != pl.col("signal").shift(1)) | (pl.col("segment") != pl.col("segment").shift(1))
    edges = states.filter(first.fill_null(value=True) | first.shift(-1, fill_value=True))  # of each signal
    known = edges.group_by("segment").agg(begin=pl.col("start").min(), finish=pl.col("end").max())
    runs = context.runs.select("segment", "start", "end", "start_row", "end_row")
    marks = pl.concat(
        [
            known.select("segment", start="begin", end="begin", start_row=None, end_row=None),
            runs,
            known.select("segment", start="finish", end="finish", start_row=None, end_row=None),
        ],
        how="vertical_relaxed",
    ).sort("segment", "start", "end")
    here = pl.col("segment").shift(-1) == pl.col("segment")
    reached = pl.col("end").cum_max()  # on an axis that never goes back the segments before have ended before
    rests = marks.with_columns(
        start=reached, end=pl.when(here).then(pl.col("start").shift(-1)), after=pl.col("start_row").shift(-1)
    )
    rests = rests.with_columns(measured=seconds("end", "start") / DAY_S)
    return (
        rests.filter(pl.col("measured") > p.idle_longest_s / DAY_S)
        .with_columns(
            graded(pl.lit(context.rhythm_s is not None)),
            limit=pl.lit(p.idle_longest_s / DAY_S),
            direction=pl.lit(None, schema.DIRECTION),
            rows=pl.concat_list(pl.col("end_row").cast(schema.ROW), pl.col("after").cast(schema.ROW)),
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    rule = after_idle(extent(found)[1])
    return f"the longest {extent(found)[1]:.0f} days" + (
        f": {rule.needs} ({rule.source}: {rule.after})" if rule else ""
    )


EXAMPLE = """
12 h
hoist.raise.contactor  .#(.)*80.#.
"""

PATTERN = Pattern(
    name="idle_too_long",
    title="idle too long",
    parameters=Parameters,
    find=find,
    motions=(),
    needs=tuple(
        (f"{motion}.*.{kind}",) for motion in ("hoist", "trolley", "bridge") for kind in ("contactor", "command")
    ),
    severity="note",
    why_severity="nothing is wrong; rules ask for an inspection before it is used again",
    usually="no work",
    unit="days",
    look_back_s=400 * DAY_S,
    settles_s=math.inf,
    exposure="observed_h",
    describe=describe,
    example=EXAMPLE,
)
