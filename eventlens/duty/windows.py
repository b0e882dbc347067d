"""What starts and running time have in common: sliding windows on whole microseconds that never cross a clock step.

A window is half-open, (t - window, t]: what lies exactly one window back is outside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens import schema
from eventlens.errors import EventlensError

HOUR_S: Final = 3600.0
"""Window of starts per hour [s] (FEM 9.683: any hour)."""
TEN_MINUTES_S: Final = 600.0
"""Window of the cyclic duration factor [s] (IEC 60034-1: 10 minutes unless stated otherwise)."""

CLOCK: Final = pl.UInt32
"""Label of a stretch of one clock; stretches of different labels cannot be compared in time."""

Whole = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Peak:
    """The largest value of a curve (a whole count or a share) and the instant (UTC) at which it is first reached."""

    value: float
    at: datetime


def peak_of(curve: pl.DataFrame, column: str) -> Peak | None:
    """The largest value of a column of a curve (time, column), at its first instant in the order of the rows."""
    if curve.is_empty():
        return None
    row = curve[column].arg_max()  # the first of equals
    assert row is not None  # columns of curves hold no nulls
    return Peak(curve[column][row], curve["time"][row])


def whole_microseconds(seconds: float) -> int:
    """A window's length [s] in whole microseconds; EventlensError unless it is a number above 0."""
    if not math.isfinite(seconds) or round(seconds * 1e6) < 1:
        raise EventlensError("a window longer than 0 s", f"{seconds} s", "give its length in seconds")
    return round(seconds * 1e6)


def in_order(times: dict[str, pl.Series], clock: pl.Series | None) -> pl.DataFrame:
    """Columns of instants beside their clock label (0 where none is given), sorted by clock and then by the columns.

    SchemaError unless every column is schema.TIME without nulls and the labels are as many as the instants.
    """
    for name, instants in times.items():
        if instants.dtype != schema.TIME or instants.null_count():
            raise schema.SchemaError(f"{name}: wanted instants ({schema.TIME}) without nulls, got {instants.dtype}")
    height = len(next(iter(times.values())))
    if clock is not None and len(clock) != height:
        raise schema.SchemaError(f"clock: wanted {height} labels, got {len(clock)}")
    labels = pl.repeat(0, height, dtype=CLOCK, eager=True) if clock is None else clock.cast(CLOCK)
    frame = pl.DataFrame({"clock": labels, **times})
    first = next(iter(times.values()))
    if labels.is_sorted() and (first > first.shift(1)).all():  # all rise: what is in order needs no sort
        return frame
    return frame.sort("clock", *times)


def to_whole(instants: pl.Series) -> Whole:
    """Instants as whole microseconds since 1970."""
    return instants.to_physical().to_numpy()


def to_instants(microseconds: Whole) -> pl.Series:
    """Whole microseconds since 1970 as instants."""
    return pl.Series(microseconds, dtype=pl.Int64).cast(schema.TIME)


def end_to_end(clock: pl.Series, start: Whole, end: Whole, window: int) -> Whole:
    """What to add to each row's times [us] so that stretches of different clocks lie in one row, apart by more than
    a window: then no window can hold two of them. Rows are sorted by clock, then start."""
    if not len(start):
        return np.zeros(0, np.int64)
    labels = clock.to_numpy()
    first = np.flatnonzero(np.concatenate(([True], labels[1:] != labels[:-1])))
    earliest = start[first]
    room = np.maximum.reduceat(end, first) - earliest + window + 1
    shift = np.concatenate(([0], np.cumsum(room)[:-1])) - earliest
    return np.repeat(shift, np.diff(np.append(first, len(start))))


def merge_windows(excess: pl.DataFrame, window: int) -> pl.DataFrame:
    """Unites the windows of an excess into stretches that do not touch.

    excess: (clock, first, last, peak), sorted by clock and time: the windows that end from first to last are above
    the limit. Returns (start, end, peak, clock): start is the beginning of the window that ends at `first`.
    """
    opens = pl.col("first") - pl.duration(microseconds=window)
    apart = (opens > pl.col("last").shift(1)) | (pl.col("clock") != pl.col("clock").shift(1))
    return (
        excess.with_columns(opens.alias("start"), apart.fill_null(True).cum_sum().alias("stretch"))
        .group_by("stretch", maintain_order=True)
        .agg(pl.col("start").first(), pl.col("last").last().alias("end"), pl.col("peak").max(), pl.col("clock").first())
        .drop("stretch")
    )


def check_limit(limit: float) -> None:
    """EventlensError for a limit that is no number or below 0."""
    if math.isnan(limit) or limit < 0:
        raise EventlensError("a limit not below 0", str(limit), "correct the limit")
