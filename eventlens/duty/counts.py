"""The duty of one motion over a log: runs, starts, running time and how they crowd together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import polars as pl

from eventlens import schema
from eventlens.duty import cyclic, starts
from eventlens.duty.groups import GroupLimits, motor_limits
from eventlens.duty.lifts import Lifts, TripRates
from eventlens.duty.windings import Winding
from eventlens.duty.windows import HOUR_S, TEN_MINUTES_S, Peak
from eventlens.machine import Machine
from eventlens.motion.kinds import of_motion


@dataclass(frozen=True)
class Spread:
    """Where a measured time lies: median and 95th percentile [s] (both interpolated linearly), and how many."""

    median: float
    p95: float
    n: int


@dataclass(frozen=True)
class MotionCounts:
    """Counts of one motion. Holes in the log are in none of them: counts and times are what the log proves."""

    motion: str
    runs: int
    """Runs, those cut by a hole or an end of the log too."""
    starts: int
    """Runs whose beginning is in the log."""
    running_s: float
    """Time in which the motion ran in either direction [s]; time with both directions on counts once."""
    fast_s: float | None
    """Time in fast [s], summed over runs; None where no run has it, that is where fast is not logged."""
    jogs: int
    """Jogs, as the pattern of that name counts them."""
    reversals: int
    """Runs the other way than the run before, with a known pause between: none over a hole or clock step."""
    starts_per_hour_max: Peak | None
    """Most starts in any hour (t - 3600 s, t], and the first t that has them; None without starts."""
    starts_per_hour_mean: float | None
    """Starts per hour of observed time; None where nothing was observed."""
    clock_hours: pl.DataFrame = field(compare=False)
    """Starts in each wall-clock hour that has any: (hour, count, clock), see `starts.clock_hours`."""
    cyclic_duration_max: Peak | None
    """Largest share of running time in any ten minutes (t - 600 s, t], 0 to 1, and the first t that has it; None
    where nothing ran."""
    limit_window_max: Peak | None
    """The same over the window of `limits`, to be held against `limits.cyclic_duration`; None without limits."""
    release_time_s: Spread | None
    """Start of run to brake confirmed released [s]; runs without that time are left out, None when all are."""
    apply_time_s: Spread | None
    """End of run to brake applied [s], as above."""
    speed_change_delay_s: Spread | None
    """Start of run to fast output [s], as above."""
    endings: Mapping[str, int]
    """Runs by how they ended: every ending of the schema, in its order."""
    limits: GroupLimits | None
    """What the motor is built for; None where the machine file does not say."""
    lifts: Lifts | None = None
    """Lifts and work cycles; None for travel, and where raising is not logged. `count_motion` leaves it open."""
    trips: TripRates | None = None
    """How often the overload device tripped; None for travel, and where it is not logged. Left open as above."""
    windings: tuple[Winding, ...] = ()
    """Slow and fast winding; none for travel, for a motor of one winding, and where no fast output is logged. Left open
    as above."""
    windings_assumed: bool = False
    """Two windings are assumed since a fast output is logged; the machine file does not say."""


def count_motion(
    motion: str,
    runs: pl.DataFrame,
    observed_s: float,
    machine: Machine,
    timezone: str,
    jogs: int,
    clock: pl.Series | None = None,
) -> MotionCounts:
    """Counts one motion.

    runs: schema.RUNS, of all motions; observed_s: observed time of the log [s]; timezone: of the clock hours; jogs:
    counted by the pattern; clock: an integer for each row of runs that is the same for runs of one clock (a hole
    leaves it, a clock step changes it); None where the clock never stepped. Sliding windows may reach over a hole,
    where they are proven minima, but never over a clock step.
    """
    labelled = schema.RUNS.check(runs).with_columns((pl.lit(0) if clock is None else clock).alias("clock"))
    own = of_motion(labelled, motion)
    begun = own.select("start", "clock", "start_seen").filter("start_seen")
    limits = motor_limits(machine, motion)
    intervals = cyclic.running_intervals(own, own["clock"])
    ten_minutes = cyclic.busiest(intervals, TEN_MINUTES_S, intervals["clock"])
    return MotionCounts(
        motion=motion,
        runs=own.height,
        starts=begun.height,
        running_s=_seconds(intervals),
        fast_s=float(own["fast_s"].sum()) if own["fast_s"].count() else None,
        jogs=jogs,
        reversals=own.select((pl.col("reversed") & pl.col("pause_s").is_not_null()).sum()).item(),
        starts_per_hour_max=starts.busiest(starts.sliding_starts(begun["start"], clock=begun["clock"])),
        starts_per_hour_mean=begun.height / (observed_s / HOUR_S) if observed_s > 0 else None,
        clock_hours=starts.clock_hours(begun["start"], timezone, begun["clock"]),
        cyclic_duration_max=ten_minutes,
        limit_window_max=_against(limits, intervals, ten_minutes),
        release_time_s=_spread(own["release_time_s"]),
        apply_time_s=_spread(own["apply_time_s"]),
        speed_change_delay_s=_spread(own["speed_change_delay_s"]),
        endings=_endings(own["ending"]),
        limits=limits,
    )


def _seconds(intervals: pl.DataFrame) -> float:
    """Summed length of the intervals [s]; whole microseconds, so the order of summing does not matter."""
    return int((intervals["end"] - intervals["start"]).dt.total_microseconds().sum()) / 1e6


def _against(limits: GroupLimits | None, intervals: pl.DataFrame, ten_minutes: Peak | None) -> Peak | None:
    if limits is None:
        return None
    if limits.window_s == TEN_MINUTES_S:
        return ten_minutes
    return cyclic.busiest(intervals, limits.window_s, intervals["clock"])


def _spread(times: pl.Series) -> Spread | None:
    known = times.drop_nulls()
    if known.is_empty():
        return None
    median, p95 = (known.quantile(share, interpolation="linear") for share in (0.5, 0.95))
    assert median is not None  # only a quantile of nothing is null
    assert p95 is not None
    return Spread(float(median), float(p95), known.len())


def _endings(endings: pl.Series) -> Mapping[str, int]:
    found = dict(endings.value_counts().iter_rows())
    return {ending: found.get(ending, 0) for ending in schema.ENDINGS}
