"""Starts per hour: how often a motor is switched on, over any sliding hour.

A start is a run whose beginning is in the log. Every start counts as one, jogs too: that is how the group limits are
meant (FEM 9.683, ASME HST). A window may reach over a hole in the log: then its count is a proven minimum, since
starts inside the hole are not known. No window reaches over a clock step: pass the labels as `clock`.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from eventlens.duty.windows import (
    HOUR_S,
    Peak,
    check_limit,
    end_to_end,
    in_order,
    merge_windows,
    peak_of,
    to_whole,
    whole_microseconds,
)
from eventlens.motion.near import merged

_HOUR_US = 3_600_000_000


def sliding_starts(starts: pl.Series, window_s: float = HOUR_S, clock: pl.Series | None = None) -> pl.DataFrame:
    """Starts in the window (t - window_s, t] that ends at each start t: a proven minimum where it crosses a hole.

    starts: instants (schema.TIME) in any order; clock: an integer label for each, where clock steps divide them.
    Returns (time, count, clock), one row for each start, sorted by clock and time. Several starts at one instant all
    count at that instant; a start exactly window_s old is outside. The largest count over all windows, wherever they
    end, is among these, because a count rises only at a start.
    """
    window = whole_microseconds(window_s)
    ordered = in_order({"time": starts}, clock)
    instants = to_whole(ordered["time"])
    axis = instants + end_to_end(ordered["clock"], instants, instants, window)
    upto = np.arange(1, len(axis) + 1) if (axis[1:] > axis[:-1]).all() else merged(axis, axis, "right")
    count = upto - merged(axis, axis - window, "right")
    return ordered.select("time", pl.Series("count", count, pl.UInt32), "clock")


def busiest(sliding: pl.DataFrame) -> Peak | None:
    """The largest count of `sliding_starts` and the first start at which it is reached; None without starts."""
    return peak_of(sliding, "count")


def excess_windows(sliding: pl.DataFrame, limit: float, window_s: float = HOUR_S) -> pl.DataFrame:
    """Stretches with more than `limit` starts in a window: (start, end, peak, clock).

    sliding: from `sliding_starts` with the same window_s [s]. Each stretch is the union of the windows that end at a
    start and hold more than the limit; exactly the limit is no excess. start is the beginning of the first of these
    windows (it may lie before the log), end the end of the last, peak the largest count. Windows that overlap or
    touch are one stretch, those of different clocks never.
    """
    check_limit(limit)
    above = sliding.filter(pl.col("count") > limit).select(
        "clock", pl.col("time").alias("first"), pl.col("time").alias("last"), pl.col("count").alias("peak")
    )
    return merge_windows(above, whole_microseconds(window_s))


def clock_hours(starts: pl.Series, timezone: str, clock: pl.Series | None = None) -> pl.DataFrame:
    """Starts in each hour of the wall clock in which there was one: (hour, count, clock).

    hour is the hour's beginning in `timezone`. Where clocks are set back for winter the hour that comes twice is two
    hours; zones off by a half or quarter of an hour have their own hours. A burst across the hour mark is split here,
    so the limits of the groups are held against `sliding_starts`, never against this.
    """
    local = in_order({"time": starts}, clock).with_columns(pl.col("time").dt.convert_time_zone(timezone).alias("hour"))
    # rounded down by what the wall clock shows past the hour: the second of two equal hours stays
    into_hour = pl.col("hour").dt.replace_time_zone(None).to_physical() % _HOUR_US
    hours = local.select("clock", (pl.col("hour").to_physical() - into_hour).cast(local["hour"].dtype).alias("hour"))
    other = (pl.col("hour") != pl.col("hour").shift(1)) | (pl.col("clock") != pl.col("clock").shift(1))
    first = hours.select(other.fill_null(value=True).arg_true()).to_series()
    count = first.shift(-1, fill_value=hours.height) - first  # hours stand in their order
    return hours[first].select("hour", count.cast(pl.UInt32).alias("count"), "clock")
