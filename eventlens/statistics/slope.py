"""Drift of a measured time over days: a slope that single bad days do not move.

The slope is that of Theil and Sen, the median of the slopes between all pairs of days, with Sen's interval (J. Am.
Stat. Assoc. 63, 1968), both by scipy. Days stand for their medians: times of one day depend on each other, and a busy
day must not outweigh a calm one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens.statistics.rates import LEVEL

LEAST_DAYS: Final = 5
"""With four days even a steady rise has a chance of 2 in 4! to be one: no interval at 95 % leaves 0 out."""


@dataclass(frozen=True)
class Slope:
    """Change per day, in the unit of the values, with its interval."""

    per_day: float
    low: float
    high: float
    days: int


def daily_slope(at: pl.Series, values: pl.Series, timezone: str, level: float = LEVEL) -> Slope | None:
    """The slope of values by the median of each local day. None with fewer than LEAST_DAYS days.

    at: instant (UTC) of each value; nulls among the values are left out.
    """
    day = pl.col("at").dt.convert_time_zone(timezone).dt.date()
    medians = (
        pl.DataFrame({"at": at, "value": values})
        .drop_nulls()
        .group_by(day=day)
        .agg(pl.col("value").median())
        .sort("day")
    )
    if medians.height < LEAST_DAYS:
        return None
    from scipy.stats import theilslopes  # loaded only when asked for

    days = medians["day"].cast(pl.Int32)
    found = theilslopes(medians["value"].to_numpy(), days.to_numpy(), alpha=level)
    return Slope(float(found.slope), float(found.low_slope), float(found.high_slope), medians.height)
