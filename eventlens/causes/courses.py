"""How a quantity moved over the days of a log: release and set times, the height of a limit, the empty reading."""

from __future__ import annotations

from typing import Final

import polars as pl

from eventlens.causes.signs import PLAINLY, change_factors
from eventlens.causes.subject import Subject

RELEASE_S: Final = 0.03
"""Smallest change of the release time that matters [s] (judgement)."""
HEIGHT_M: Final = 0.1
"""Smallest change of the height at which a limit acts that matters [m] (judgement)."""
LEAST_RUNS: Final = 5
"""A day with fewer runs has no median (judgement)."""
LEAST_DAYS: Final = 6
"""Fewer days, or operations of a limit, show no course (judgement)."""


def daily_times(subject: Subject, motion: str | None, column: str) -> pl.DataFrame:
    """(day, value, n): median of a time of the motion's runs [s], on each day with enough of them."""
    return subject.once(f"{column} by day of {motion}", lambda own: _daily_times(own, motion, column))


def _daily_times(subject: Subject, motion: str | None, column: str) -> pl.DataFrame:
    times = pl.DataFrame([subject.run_times(motion)["day"], subject.runs_of(motion)[column].alias("value")])
    known = times.filter(pl.col("value").is_not_null())
    by_day = known.group_by("day").agg(pl.col("value").median(), n=pl.len()).sort("day")
    return by_day.filter(pl.col("n") >= LEAST_RUNS).with_columns(day=pl.col("day").cast(pl.Int32).cast(pl.Float64))


def changes(course: pl.DataFrame, least: float) -> dict[str, float]:
    """signs.change_factors of a course (day, value)."""
    return change_factors(course["day"].to_list(), course["value"].to_list(), least)


def limit_heights(subject: Subject) -> pl.DataFrame:
    """(value, row, day): height of the hook [m] at each operation of the upper limit; empty where one is not logged."""
    heights = subject.measured("hoist.height_m").select("time", "value")
    acted = subject.on("hoist.raise.limit").filter("start_seen").select(row="start_row", at="start").sort("at")
    at = acted.join_asof(heights, left_on="at", right_on="time").drop_nulls("value")
    return at.select("value", "row", day=pl.col("at").dt.epoch("s") / 86400)


def release_moved(subject: Subject, motion: str) -> bool:
    """Whether the release time of a motion's brake has plainly grown."""
    found = changes(daily_times(subject, motion, "release_time_s"), RELEASE_S)
    return max(found["drift up"], found["step up"]) > PLAINLY


def limit_moved(subject: Subject, motion: str) -> bool:
    """Whether the upper limit plainly acts lower than it did."""
    if motion != "hoist":
        return False
    found = changes(limit_heights(subject), HEIGHT_M)
    return max(found["drift down"], found["step down"]) > PLAINLY


def empty_reading(subject: Subject, steps: pl.DataFrame) -> pl.DataFrame:
    """(date, day, value): lowest twentieth of the load readings of each day, which is the empty hook.

    steps: duty.load.Load.steps; value in shares of the rated load.
    """
    by_day = steps.group_by(date=subject.local_day()).agg(value=pl.col("ratio").quantile(0.05), n=pl.len())
    known = by_day.filter(pl.col("n") >= LEAST_RUNS).sort("date")
    return known.with_columns(day=pl.col("date").cast(pl.Int32).cast(pl.Float64))
