"""Limit used as a stop: a final limit ends the motion, where the operator should have.

Definition: a final limit's signal that a run in its direction drove into: it comes on during the run or within two log
steps of its end. Of the upper limit each such operation counts, but for the daily test: the first in a shift, within
`daily_test_within_s` of its beginning, with an empty hook where the load is known. Of the other final limits those from
the `limit_repeats`-th in a shift on count: a working limit may be met now and then. It spans the limit's signal;
measured is the time since the shift began.

Shifts are those of the machine file, each with the half hour before it; where it names none they are found from the
rests in the log, and the summary says so. Certain where the contactor was on when the limit came; possible where only
the log step brings them together, and where another shift may have begun without a rest (found shifts, an empty hook,
more than six hours in).
Source: OSHA 29 CFR 1910.179(n)(4): the upper limit is tried without load at the beginning of each shift, and is no
operating control. Cost: one match of the limit with the runs of its direction.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

import polars as pl

from eventlens import schema, signals
from eventlens.duty.shifts import Shifts, how, shifts_of
from eventlens.limits import limit
from eventlens.motion.near import latest, without
from eventlens.patterns._base import FOUND, Context, Pattern, graded

UNLOADED: Final = 0.1
"""Share of the rated load up to which the hook counts as empty (common practice: hook, sling and drift)."""


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
    shifts = _shifts(context)
    parts = [_of_direction(context, motion, way, shifts, p) for way in signals.MOTIONS[motion]]
    return pl.concat(parts).sort("start")


def _shifts(context: Context) -> Shifts:
    """The shifts, found once for all motions."""
    stated = context.machine.work.shifts
    begins = context.once(
        "shifts", lambda: shifts_of(context.runs, stated, context.timezone).begins.alias("begin").to_frame()
    )
    return Shifts(begins["begin"], how(stated))


def _of_direction(context: Context, motion: str, way: str, shifts: Shifts, p: Parameters) -> pl.DataFrame:
    name = f"{motion}.{way}.limit"
    operated = context.calm(context.states.on(name).filter("start_seen"), motion)
    runs = context.runs_of(motion).filter(pl.col("direction") == way)
    loads = runs.select(run_start="start", run_load_kg="load_kg").unique("run_start")
    runs = runs.select("start", "end", "start_seen", "end_seen", "start_row", "end_row", "segment")
    step = timedelta(seconds=context.uncertainty_s)
    near = latest(operated, pl.col("start"), runs, "run")
    near = near.join(loads, on="run_start", how="left", maintain_order="left")
    driven = near.filter((pl.col("run_end") >= pl.col("start") - step).fill_null(value=False))
    counted = _counted(driven, way, shifts, context, p)
    return without(
        counted.with_columns(
            graded((pl.col("run_end") >= pl.col("start")) & _known_shift(context, way)),
            measured=pl.col("_since") / 3600,
            limit=pl.lit(None, pl.Float64),
            direction=pl.lit(way, schema.DIRECTION),
            signal=pl.lit(name, schema.SIGNAL),
            rows=pl.concat_list("start_row", "end_row"),
        ),
        "run",
    ).select(*FOUND, "signal")


def _known_shift(context: Context, way: str) -> pl.Expr:
    """Whether it cannot be the test of a shift that began without a rest: shifts that are found show rests only."""
    if way != "raise" or context.machine.work.shifts:
        return pl.lit(value=True)
    rated = context.machine.machine.rated_load_kg
    loaded = pl.col("run_load_kg") > UNLOADED * rated if rated else pl.lit(value=False)
    return (pl.col("_since") <= SHORTEST_SHIFT_S) | loaded.fill_null(value=False)


def _counted(driven: pl.DataFrame, way: str, shifts: Shifts, context: Context, p: Parameters) -> pl.DataFrame:
    """Without the daily test of the upper limit, and without the first few of the others in each shift."""
    early = p.daily_test_within_s  # whoever comes before the shift tests for it
    numbered = driven.with_columns(
        _shift=shifts.number(driven["start"], early), _since=shifts.since_s(driven["start"], early)
    )
    if way != "raise":
        place = pl.int_range(1, pl.len() + 1).over("_shift")
        return numbered.filter(place >= p.limit_repeats)
    rated = context.machine.machine.rated_load_kg
    empty = pl.col("run_load_kg") <= UNLOADED * rated if rated else pl.lit(value=None, dtype=pl.Boolean)
    test = (pl.col("_since") <= p.daily_test_within_s) & empty.fill_null(value=True)
    first = test & (test.cast(pl.Int32).cum_sum().over("_shift") == 1)
    return numbered.filter(~first.fill_null(value=False))


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return f"without the daily test at the beginning of each shift; shifts {_shifts(context).how}"


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
    describe=describe,
    example=EXAMPLE,
)
