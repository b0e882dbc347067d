"""Limit used as a stop: a final limit ends the motion, where the operator should have.

Definition: a final limit's signal that a run in its direction drove into: it comes on during the run or within two log
steps of its end. Of the upper limit each such operation counts, but for the daily test: the first in a shift, within
`daily_test_within_s` of its beginning, with an empty hook where the load is known. Of the other final limits those from
the `limit_repeats`-th in a shift on count: a working limit may be met now and then. It spans the limit's signal;
measured is the time since the shift began.

Shifts are those of the machine file, each with the half hour before it; where it names none they are found from the
log (duty.shifts), and the summary says so. Certain where the contactor was on when the limit came; possible where only
the log step brings them together, and where another shift may have begun without a rest (found shifts, an empty hook,
more than six hours after the last rest).
Source: OSHA 29 CFR 1910.179(n)(4): the upper limit is tried without load at the beginning of each shift, and is no
operating control. Cost: one match of the limit with the runs of its direction.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

import polars as pl

from eventlens import schema, signals
from eventlens.duty.lifts import LiftParameters
from eventlens.duty.load import weighed
from eventlens.limits import configure, limit
from eventlens.motion.near import latest, without
from eventlens.patterns._base import FOUND, Context, Pattern, graded, nothing

SHORTEST_SHIFT_S: Final = 6 * 3600.0
"""Within this time [s] of its beginning no other shift follows (common practice)."""


@dataclass(frozen=True)
class Parameters:
    daily_test_within_s: float = limit(
        1800.0,
        "s",
        "common practice: the test of OSHA 1910.179(n)(4) is made in the first minutes of a shift",
        "raising it lets a later operation pass as the daily test; lowering it reports late tests",
    )
    limit_repeats: float = limit(
        3.0,
        "operations in a shift",
        "common practice, no source",
        "raising it accepts lower and travel limits as stops; lowering it reports each time one is met",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Final limits of one motion that were driven into."""
    parts = [_of_direction(context, motion, way, p) for way in signals.MOTIONS[motion]]
    return pl.concat(parts, how="vertical_relaxed").sort("start")


def _of_direction(context: Context, motion: str, way: str, p: Parameters) -> pl.DataFrame:
    name = f"{motion}.{way}.limit"
    operated = context.calm(context.states.on(name).filter("start_seen"), motion)
    if operated.is_empty():
        return nothing("signal")
    runs = context.runs_of(motion).filter(pl.col("direction") == way)
    step = timedelta(seconds=context.uncertainty_s)
    near = latest(operated, pl.col("start"), runs, "run")
    near = near.join(_loaded(context, runs), on="run_start", how="left", maintain_order="left")
    driven = near.filter((pl.col("run_end") >= pl.col("start") - step).fill_null(value=False))
    counted = _counted(driven, way, context, p)
    return without(
        counted.with_columns(
            graded((pl.col("run_end") >= pl.col("start")) & pl.col("_sure")),
            measured=pl.col("_since") / 3600,
            limit=pl.lit(None, pl.Float64),
            direction=pl.lit(way, schema.DIRECTION),
            signal=pl.lit(name, schema.SIGNAL),
            rows=pl.concat_list("start_row", "end_row"),
        ),
        "run",
    ).select(*FOUND, "signal")


def _loaded(context: Context, runs: pl.DataFrame) -> pl.DataFrame:
    """(run_start, loaded) of the runs in which the load is known: whether it was ever above that of an empty hook."""
    if context.load is None or not context.load.rated:
        return pl.DataFrame(schema={"run_start": schema.TIME, "loaded": pl.Boolean})
    empty = configure(LiftParameters, context.machine.limits).empty_hook_share
    numbered = runs.select("start", "end", "segment").with_row_index("n")
    found = weighed(numbered, context.load.steps).group_by("n").agg(loaded=(pl.col("ratio") > empty).any())
    return numbered.join(found, on="n").select("loaded", run_start="start")


def _counted(driven: pl.DataFrame, way: str, context: Context, p: Parameters) -> pl.DataFrame:
    """Without the daily test of the upper limit, and without the first few of the others in each shift.

    Adds _since: seconds since the shift began; _sure: it cannot be the test of a shift that began without a rest.
    """
    early, shifts = p.daily_test_within_s, context.shifts  # whoever comes before the shift tests for it
    came = driven["start"]
    numbered = driven.with_columns(_shift=shifts.number(came, early), _since=shifts.since_s(came, early))
    if way != "raise":
        place = pl.int_range(1, pl.len() + 1).over("_shift")
        return numbered.filter(place >= p.limit_repeats).with_columns(_sure=pl.lit(value=True))
    test = (pl.col("_since") <= p.daily_test_within_s) & ~pl.col("loaded").fill_null(value=False)
    first = test & (test.cast(pl.Int32).cum_sum().over("_shift") == 1)
    own_shift = pl.lit(shifts.plan.stated) | (shifts.since_rest_s(came) <= SHORTEST_SHIFT_S)
    sure = numbered.with_columns(_sure=own_shift | pl.col("loaded").fill_null(value=False))
    return sure.filter(~first.fill_null(value=False))


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return f"without the daily test at the beginning of each shift; shifts {context.shifts.how}"


EXAMPLE = """
1 s
hoist.raise.command    ..#####..........(.)*2000..#####.........
hoist.raise.contactor  ..####...........(.)*2000..####..........
hoist.lower.contactor  ..........###....(.)*2000..........###...
hoist.raise.limit      .....#######.....(.)*2000.....#######....
"""

PATTERN = Pattern(
    name="limit_as_stop",
    title="limit used as a stop",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(
        ("{motion}.*.limit", "{motion}.*.contactor"),
        ("{motion}.*.limit", "{motion}.*.command"),
    ),
    severity="watch",
    why_severity="a final limit is the last defence; each use as a stop wears it and trusts it once more",
    usually="a way of working, or a slow-down limit that does not act",
    unit="h into the shift",
    look_back_s=86400.0,
    exposure="start",
    describe=describe,
    example=EXAMPLE,
)
