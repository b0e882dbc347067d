"""Finds, for each row of one frame, the interval of another that is in force at an instant or comes next.

All frames are sorted by the instants that are matched; nothing is matched across a hole (same segment only).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np
import numpy.typing as npt
import polars as pl

Places = npt.NDArray[np.int64]

_PART = ("start", "end", "start_seen", "end_seen", "start_row", "end_row")


def latest(
    frame: pl.DataFrame, at: pl.Expr, intervals: pl.DataFrame, prefix: str, parts: Sequence[str] = _PART
) -> pl.DataFrame:
    """Adds to each row the last interval that began at or before the instant `at`, in the same segment, else nulls.

    parts: the columns of the interval that are added, each behind the prefix.
    """
    return _with(frame, intervals, _latest(frame, at, intervals), prefix, parts)


def following(
    frame: pl.DataFrame, at: pl.Expr, intervals: pl.DataFrame, prefix: str, parts: Sequence[str] = _PART
) -> pl.DataFrame:
    """Adds to each row the first interval that begins after the instant `at`, in the same segment, else nulls."""
    return _with(frame, intervals, _next(_latest(frame, at, intervals), intervals), prefix, parts)


def around(
    frame: pl.DataFrame, at: pl.Expr, intervals: pl.DataFrame, before: str, after: str, parts: Sequence[str] = _PART
) -> pl.DataFrame:
    """`latest` behind the prefix `before` and `following` behind the prefix `after`, looked for once."""
    place = _latest(frame, at, intervals)
    return _with(_with(frame, intervals, place, before, parts), intervals, _next(place, intervals), after, parts)


def neighbours(frame: pl.DataFrame, at: pl.Expr, intervals: pl.DataFrame) -> tuple[pl.Series, pl.Series]:
    """The places of what `latest` and `following` give; null where that is nothing."""
    place = _latest(frame, at, intervals)
    return _here(frame, intervals, place), _here(frame, intervals, _next(place, intervals))


def _latest(frame: pl.DataFrame, at: pl.Expr, intervals: pl.DataFrame) -> pl.Series:
    """For each row: the place of the last interval that began at or before `at`, in whatever segment; null if none."""
    if frame.is_empty() or intervals.is_empty():
        return pl.Series([None], dtype=pl.UInt32).new_from_index(0, frame.height)
    instants = frame.select(_at=at)
    if not instants["_at"].is_sorted():
        raise ValueError("the instants that are matched must be sorted")
    begun = intervals.select(_begun="start").with_row_index("_place")
    return instants.join_asof(begun, left_on="_at", right_on="_begun", check_sortedness=False)["_place"]


def _next(place: pl.Series, intervals: pl.DataFrame) -> pl.Series:
    """The place after each place, null after the last one; the first after null."""
    after = (place + 1).fill_null(0)
    return after.set(after >= intervals.height, None)


def _with(
    frame: pl.DataFrame, intervals: pl.DataFrame, place: pl.Series, prefix: str, parts: Sequence[str]
) -> pl.DataFrame:
    """Adds the parts of the intervals at these places, where they are of the same segment."""
    if frame.is_empty() or intervals.is_empty():
        return frame.hstack([intervals[name].clear(frame.height).alias(f"{prefix}_{name}") for name in parts])
    found = intervals.select(pl.col(name).alias(f"{prefix}_{name}") for name in parts)
    return frame.hstack(found[_here(frame, intervals, place)])


def _here(frame: pl.DataFrame, intervals: pl.DataFrame, place: pl.Series) -> pl.Series:
    """The places of intervals that are of the segment of their row, else null."""
    if frame.is_empty() or intervals.is_empty():
        return place
    here = intervals["segment"].gather(place) == frame["segment"]
    return place if here.all() else place.set(~here, None)


def without(frame: pl.DataFrame, *prefixes: str) -> pl.DataFrame:
    """The frame without the columns that matches with these prefixes added."""
    added = {f"{prefix}_{name}" for prefix in prefixes for name in _PART}
    return frame.drop(added.intersection(frame.columns))


def seconds(later: str | pl.Expr, earlier: str | pl.Expr) -> pl.Expr:
    """later - earlier [s], exact to the microsecond."""
    a = pl.col(later) if isinstance(later, str) else later
    b = pl.col(earlier) if isinstance(earlier, str) else earlier
    return ((a - b).dt.total_microseconds() / 1e6).round(6)  # dividing alone leaves 0.09999999999999999 for 0.1


def merged(rising: pl.Series | Places, at: pl.Series | Places, side: Literal["left", "right"]) -> Places:
    """What numpy.searchsorted gives: where both rise they are merged, which takes a third of the time of a search.

    Instants that do not rise are searched for.
    """
    at = pl.Series(at)
    if not at.is_sorted():
        return np.searchsorted(pl.Series(rising).to_physical().to_numpy(), at.to_physical().to_numpy(), side)
    keys = pl.DataFrame({"_key": rising}).with_row_index("_n", 1)
    found = pl.DataFrame({"_at": at}).join_asof(
        keys,
        left_on="_at",
        right_on="_key",
        strategy="backward",
        allow_exact_matches=side == "right",
        check_sortedness=False,
    )["_n"]
    places = np.zeros(len(at), np.int64)
    none = found.null_count()  # before the first key
    places[none:] = found.slice(none).to_numpy()
    return places


def crossing(spans: pl.DataFrame, intervals: pl.DataFrame) -> tuple[pl.Series, pl.Series]:
    """Each pair of a span and an interval (start, end) with more than an instant in common, as their places, in order.

    Spans are disjoint and sorted, and so are intervals; those of no length have no part in it.
    """
    begin, until = (spans[name].to_physical().to_numpy() for name in ("start", "end"))
    start, end = (intervals[name].to_physical().to_numpy() for name in ("start", "end"))
    first = merged(end, begin, "right")
    count = np.maximum(merged(start, until, "left") - first, 0)
    span = np.repeat(np.arange(len(begin), dtype=np.uint32), count)
    first -= np.cumsum(count) - count
    place = np.repeat(first.astype(np.uint32), count)  # what is below none here wraps around, and back again
    place += np.arange(len(place), dtype=np.uint32)
    spans_last, last = until > begin, end > start
    if not (spans_last.all() and last.all()):
        kept = spans_last[span] & last[place]
        span, place = span[kept], place[kept]
    return pl.Series(span), pl.Series(place)


def time_on(intervals: pl.DataFrame, start: pl.Series, end: pl.Series) -> pl.Series:
    """Time [s] that the disjoint, sorted intervals cover between the instants of start and of end."""
    before = coverage(*(intervals[name].to_physical().to_numpy() for name in ("start", "end")))
    upto, since = (before(instants.to_physical().to_numpy()) for instants in (end, start))
    return (pl.Series("covered", upto - since) / 1e6).round(6)


def coverage(start: Places, end: Places) -> Callable[[Places], Places]:
    """Gives the total length that the disjoint, sorted intervals have before each of some instants."""
    upto = np.concatenate(([0], np.cumsum(end - start)))
    last = np.concatenate(([np.iinfo(np.int64).min], end))

    def before(instants: Places) -> Places:
        begun = merged(start, instants, "right")
        ahead = np.maximum(last[begun], instants)
        ahead -= instants  # of the last that has begun, what comes after the instant
        found: Places = upto[begun]
        found -= ahead
        return found

    return before
