"""Cyclic duration: the share of time a motor runs, over any sliding ten minutes (IEC 60034-1).

The running time in (t - window, t] is a curve of straight pieces that rises or falls by one microsecond for each
microsecond, or stands still. So it is known entirely by its breakpoints, in whole numbers, and so are the instants
at which it crosses a limit. A window may reach over a hole or before the log: then its share is a proven minimum.
No window reaches over a clock step: pass the labels as `clock`.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from eventlens import schema
from eventlens.duty.windows import (
    TEN_MINUTES_S,
    Peak,
    check_limit,
    end_to_end,
    in_order,
    merge_windows,
    peak_of,
    to_instants,
    to_whole,
    whole_microseconds,
)
from eventlens.motion.near import coverage, merged
from eventlens.motion.spells import united


def running_intervals(intervals: pl.DataFrame, clock: pl.Series | None = None) -> pl.DataFrame:
    """The time in which the motor runs at all: (start, end, clock), united, apart from each other, sorted by clock.

    intervals: (start, end) in schema.TIME, in any order, overlapping or not; those of no length are left out.
    SchemaError for an interval that ends before it starts.
    """
    ordered = in_order({"start": intervals["start"], "end": intervals["end"]}, clock)
    if ordered.select((pl.col("end") < pl.col("start")).any()).item():
        raise schema.SchemaError("intervals: wanted each end not before its start")
    lasts = ordered["end"] > ordered["start"]
    lasting = ordered if lasts.all() else ordered.filter(lasts)
    latest, before = pl.col("end").cum_max(), pl.col("end").cum_max().shift(1)
    if lasting["clock"].n_unique() > 1:  # each clock has a time of its own
        latest, before = latest.over("clock"), before.over("clock")
    fresh = lasting.select((pl.col("start") > before).fill_null(True))["start"]
    if fresh.all():
        return lasting.select("start", "end", "clock")
    # a block begins after all before it have ended: the latest end up to its last row is its own
    return united(lasting, fresh, end=latest).select("start", "end", "clock")


def running_share(
    intervals: pl.DataFrame, window_s: float = TEN_MINUTES_S, clock: pl.Series | None = None
) -> pl.DataFrame:
    """Share of the window (t - window_s, t] in which the motor runs, 0 to 1, at each breakpoint t of that curve.

    intervals: (start, end) in schema.TIME; where they overlap, time counts once; clock: an integer label for each.
    Returns (time, share, clock), sorted by clock and time; between two rows of a clock the share is linear, before the
    first and after the last row it is 0. Breakpoints are starts and ends and the instants one window after them, so
    the last rows lie up to a window after the log.
    """
    window = whole_microseconds(window_s)
    blocks = running_intervals(intervals, clock)
    start, end = to_whole(blocks["start"]), to_whole(blocks["end"])
    shift = end_to_end(blocks["clock"], start, end, window)
    start, end = start + shift, end + shift

    # time enters the window at its front, t, and leaves it one window later
    edges = np.column_stack((start, end)).ravel()
    place = np.arange(len(edges))
    back = place + merged(edges, edges + window, "right")  # two rising rows are merged, nothing is sorted
    front = np.ones(2 * len(edges), np.bool_)
    front[back] = False
    instants, turns, owner = (np.empty(len(front), dtype) for dtype in (np.int64, np.int8, np.int64))
    instants[front], turns[front], owner[front] = edges, 1 - 2 * (place % 2), place // 2
    instants[back], turns[back], owner[back] = edges + window, 2 * (place % 2) - 1, place // 2
    slope = np.cumsum(turns, dtype=np.int8)
    running = np.concatenate(([0], np.cumsum(slope[:-1] * np.diff(instants)))) if len(instants) else instants

    kept = np.append(np.diff(instants) > 0, True)[: len(instants)]
    owner = owner[kept]
    time = to_instants(instants[kept] - shift[owner])
    # a division of whole numbers is correctly rounded: a share that is exactly the limit compares equal to it
    share = running[kept] / window
    return pl.DataFrame({"time": time, "share": share}).with_columns(blocks["clock"].gather(owner).alias("clock"))


def busiest(intervals: pl.DataFrame, window_s: float = TEN_MINUTES_S, clock: pl.Series | None = None) -> Peak | None:
    """`busiest_share` of `running_share` of these intervals, found without the whole curve.

    The curve is highest where an interval ends. It was as high before, back to where the window began with an interval,
    if it begins within one or where one ends: until then running time entered it as fast as it left.
    """
    window = whole_microseconds(window_s)
    blocks = running_intervals(intervals, clock)
    if blocks.is_empty():
        return None
    start, end = to_whole(blocks["start"]), to_whole(blocks["end"])
    shift = end_to_end(blocks["clock"], start, end, window)
    start, end = start + shift, end + shift
    opens = end - window
    running = np.cumsum(end - start) - coverage(start, end)(opens)
    most = running.max()
    last = np.flatnonzero(running == most)
    within = np.maximum(np.searchsorted(start, opens[last], "right") - 1, 0)
    enters = (start[within] <= opens[last]) & (end[within] >= opens[last])
    at = np.where(enters, start[within] + window, end[last])
    first = np.argmin(at)
    return Peak(float(most) / window, to_instants(at[[first]] - shift[last[[first]]])[0])


def busiest_share(curve: pl.DataFrame) -> Peak | None:
    """The largest share of `running_share` and the first instant at which it is reached; None without running."""
    return peak_of(curve, "share")


def excess_windows(curve: pl.DataFrame, limit: float, window_s: float = TEN_MINUTES_S) -> pl.DataFrame:
    """Stretches in which the share is above `limit`: (start, end, peak, clock).

    curve: the whole result of `running_share` with the same window_s [s]; limit: a share, 0 to 1, taken to the nearest
    microsecond of running time in the window. Strictly above: a share that just reaches the limit is no excess.
    start is the beginning of the window at the instant the curve first crosses the limit (it may lie before the log),
    end the instant at which it last falls back to it (up to a window after the log's last run), peak the largest
    share. Windows that overlap or touch are one stretch, those of different clocks never.
    """
    check_limit(limit)
    window = whole_microseconds(window_s)
    most = round(min(limit, 1.0) * window)
    # each clock's curve begins and ends at 0, so every crossing upwards has its crossing downwards
    running = curve.select((pl.col("share") * window).round().cast(pl.Int64)).to_series()
    above = (running > most).arg_true()
    entered, now, before = (above.diff() != 1).fill_null(value=True), running.gather(above), running.gather(above - 1)
    part = curve[above]
    spans = (
        part.with_columns(
            entered.cum_sum().alias("region"),
            # the slope is 1 on the way up and -1 on the way down
            (curve["time"].gather(above - 1) + (most - before).cast(pl.Duration("us"))).alias("up"),
            (part["time"] + (now - most).cast(pl.Duration("us"))).alias("down"),
        )
        .group_by("region", maintain_order=True)
        .agg(
            pl.col("clock").first(),
            pl.col("up").first().alias("first"),
            pl.col("down").last().alias("last"),
            pl.col("share").max().alias("peak"),
        )
        .drop("region")
    )
    return merge_windows(spans, window)
