"""Stretches in which several signals are in a wanted state at once, and times that are held against a limit."""

from __future__ import annotations

from datetime import timedelta

import polars as pl

from eventlens import schema
from eventlens.motion.near import crossing, seconds
from eventlens.patterns._base import moved

_NEVER = pl.Schema(
    {
        "start": schema.TIME,
        "end": schema.TIME,
        "start_row": schema.ROW(),
        "end_row": schema.ROW(),
        "segment": pl.UInt32(),
        "measured": pl.Float64(),
    }
).to_frame()


def together(*sides: pl.DataFrame, over_s: float = 0.0) -> pl.DataFrame:
    """Stretches (start, end, start_row, end_row, segment, measured [s]) that lie in an interval of every side.

    sides: disjoint known intervals (motion.states). None reaches over a hole or a state that is not known. measured
    is the length; what touches at one instant only, as equal stamps in inverted order do, is none. over_s: only what
    is longer [s] is looked up.
    """
    if any(side.is_empty() for side in sides):
        return _NEVER
    found = sides[0].select("start", "end", "start_row", "end_row", "segment")
    for side in sides[1:]:
        found = _both(found, side, timedelta(microseconds=round(over_s * 1e6)))
    return found.with_columns(measured=seconds("end", "start"))


def _both(one: pl.DataFrame, other: pl.DataFrame, over: timedelta) -> pl.DataFrame:
    """What lies in an interval of each, with the lines of the later beginning and of the earlier end."""
    at, other_at = crossing(one, other)
    start, other_start = one["start"].gather(at), other["start"].gather(other_at)
    end, other_end = one["end"].gather(at), other["end"].gather(other_at)
    by_start, by_end = other_start >= start, other_end < end
    times = pl.DataFrame([start.zip_with(~by_start, other_start), end.zip_with(~by_end, other_end)])
    if over:
        lasts = times["end"] - times["start"] > over
        times, at, other_at = times.filter(lasts), at.filter(lasts), other_at.filter(lasts)
        by_start, by_end = by_start.filter(lasts), by_end.filter(lasts)
    whose = {"start_row": by_start, "end_row": by_end, "segment": by_start}
    return times.with_columns(
        other[name].gather(other_at).zip_with(theirs, one[name].gather(at)) for name, theirs in whose.items()
    )


def maybe_over(measured: pl.Expr, limit_s: float, uncertainty_s: float) -> pl.Expr:
    """Whether a measured time may exceed the limit, to within the uncertainty [s]."""
    return moved(measured, uncertainty_s) > limit_s


def surely_over(measured: pl.Expr, limit_s: float, uncertainty_s: float) -> pl.Expr:
    """Whether a measured time exceeds the limit by more than the uncertainty [s]."""
    return moved(measured, -uncertainty_s) > limit_s


def apart(limit_s: float, healthy_s: float) -> float:
    """The coarsest log step [s] at which a healthy time never comes near the limit: one step of error and two of doubt.

    healthy_s: the longest healthy time at the default limit, below the limit.
    """
    return round((limit_s - healthy_s) / 3, 6)
