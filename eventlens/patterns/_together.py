"""Stretches in which several signals are in a wanted state at once, and times that are held against a limit."""

from __future__ import annotations

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


def together(*sides: pl.DataFrame) -> pl.DataFrame:
    """Stretches (start, end, start_row, end_row, segment, measured [s]) that lie in an interval of every side.

    sides: disjoint known intervals (motion.states). None reaches over a hole or a state that is not known. measured
    is the length; what touches at one instant only, as equal stamps in inverted order do, is none.
    """
    if any(side.is_empty() for side in sides):
        return _NEVER
    found = sides[0].select("start", "end", "start_row", "end_row", "segment")
    for side in sides[1:]:
        found = _both(found, side)
    return found.with_columns(measured=seconds("end", "start"))


def _both(one: pl.DataFrame, other: pl.DataFrame) -> pl.DataFrame:
    """What lies in an interval of each, with the lines of the later beginning and of the earlier end."""
    at, other_at = crossing(one, other)
    here, there = one[at], other.select(one.columns)[other_at]
    by_start, by_end = there["start"] >= here["start"], there["end"] < here["end"]
    whose = {"start": by_start, "end": by_end, "start_row": by_start, "end_row": by_end, "segment": by_start}
    return pl.DataFrame([there[name].zip_with(theirs, here[name]) for name, theirs in whose.items()])


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
