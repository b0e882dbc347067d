"""One log cut at an instant into the log before and the log after it.

A cut must not look like a fault. Each signal's state at the cut is known where the log goes on through it, so the part
after begins with it: as a state that was shown, not as a change that was seen. Runs and states that the cut goes
through are censored on both sides: they count as a start only where they began, and no end is made up for them.

What a pattern needs from beyond the cut it does not have: a burst that the cut goes through is judged by its halves,
and an overload trip whose raise began before the cut is only a possible trip, not told from a snatch.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from eventlens import schema
from eventlens.errors import EventlensError
from eventlens.reading.log import Log


def cut(log: Log, at: datetime, until: datetime | None = None) -> tuple[Log, Log]:
    """The log before `at` and the log from `until` on (else from `at`). What lies between is on neither side.

    EventlensError where either instant leaves nothing on its side, or lies in time that the clock showed twice.
    """
    at = at.astimezone(UTC)
    until = at if until is None else until.astimezone(UTC)
    if until < at:
        raise EventlensError("an end of the work not before its beginning", f"{until} before {at}", "exchange the two")
    for instant in (at, until):
        _check(log.segments, log.timezone, instant)
    return _part(log, None, at), _part(log, until, None)


def part_of(log: Log, begin: datetime | None, end: datetime | None) -> Log:
    """The log from `begin` up to, but not including, `end`: that before a cut at `end`, of which that after a cut at
    `begin`, at the cost of what lies between. None: it is not cut there. EventlensError as of cut.
    """
    if end is not None:
        _check(log.segments, log.timezone, end)
    if begin is not None:
        _check(stretches(log.segments, None, end), log.timezone, begin)
    return _part(log, begin, end)


def instant_of(given: str | datetime, timezone: str) -> datetime:
    """An instant from ISO 8601 text or a datetime; without an offset it is in the zone of the log.

    Of a time that the clocks showed twice at the end of summer time it is the first. EventlensError for other text.
    """
    when = given
    if isinstance(when, str):
        try:
            when = datetime.fromisoformat(when.strip())
        except ValueError:
            raise EventlensError(
                "an instant as 2026-04-15 10:00",
                f"'{given}'",
                "write year, month, day and time, with or without offset",
            ) from None
    return (when if when.tzinfo else when.replace(tzinfo=ZoneInfo(timezone))).astimezone(UTC)


def _check(segments: pl.DataFrame, timezone: str, at: datetime) -> None:
    zone = ZoneInfo(timezone)
    first, last = segments["start"].min(), segments["end"].max()
    shown, span = _text(at, zone), f"{_text(first, zone)} to {_text(last, zone)}"
    if not first < at < last:  # type: ignore[operator]
        raise EventlensError("an instant within the log", shown, f"choose one within {span} ({timezone})")
    here = segments.select(before=pl.col("end") <= at, after=pl.col("start") >= at)
    # by a clock that was set back an instant comes twice: the stretches before and after it do not part cleanly
    through = here.filter(~pl.col("before") & ~pl.col("after")).height
    order = here.select(place=pl.col("after").cast(pl.Int8) - pl.col("before").cast(pl.Int8))["place"]
    if through > 1 or not order.is_sorted():
        raise EventlensError(
            "an instant that the clock of the log showed once", shown, "choose one away from the step of its clock"
        )


def _text(instant: Any, zone: ZoneInfo) -> str:
    return str(instant.astimezone(zone).isoformat(" ", "seconds")[:19])


def _part(log: Log, begin: datetime | None, end: datetime | None) -> Log:
    """The log from `begin` up to, but not including, `end`."""
    segments = stretches(log.segments, begin, end)
    first = segments["segment"].min() or 0
    inside = [] if begin is None else [pl.col("time") >= begin]
    inside += [] if end is None else [pl.col("time") < end]
    events = log.events.filter(*inside, pl.col("segment").is_in(segments["segment"].implode()))
    if begin is not None:
        events = pl.concat([_standing(log, begin), events])
    rows = events.group_by("segment").agg(rows=pl.len().cast(pl.UInt32))
    segments = segments.drop("rows").join(rows, on="segment", how="left", maintain_order="left")
    # holes and steps are those between two stretches of the part; one that the cut lies in is in neither part
    ended = segments["end"].head(-1).implode()
    return replace(
        log,
        events=events.with_columns(pl.col("segment") - first),
        segments=segments.with_columns(pl.col("segment") - first, pl.col("rows").fill_null(0)),
        holes=log.holes.filter(pl.col("start").is_in(ended)),
        clock_steps=log.clock_steps.filter(pl.col("at").is_in(ended)),
        names=_names(log, events),
    ).check()


def stretches(segments: pl.DataFrame, begin: datetime | None, end: datetime | None) -> pl.DataFrame:
    """schema.SEGMENTS between two instants; their rows are those of the whole log."""
    if begin is not None:
        reached = (pl.col("end") > begin) | (pl.col("start") >= begin)
        segments = segments.filter(reached).with_columns(pl.col("start").clip(lower_bound=begin))
    if end is not None:
        segments = segments.filter(pl.col("start") < end).with_columns(pl.col("end").clip(upper_bound=end))
    return segments


def _standing(log: Log, at: datetime) -> pl.DataFrame:
    """The last record of each signal before `at` in the stretch that goes on through it, moved to `at`."""
    through = log.segments.filter((pl.col("start") < at) & (pl.col("end") > at))["segment"]
    before = log.events.lazy().with_row_index("place").filter(pl.col("time") < at)
    before = before.filter(pl.col("segment").is_in(through.implode()))
    places = before.group_by("signal").agg(pl.col("place").last()).collect()["place"].sort()
    return log.events[places].with_columns(pl.lit(at).cast(schema.TIME).alias("time"))


def _names(log: Log, events: pl.DataFrame) -> pl.DataFrame:
    """The names with the records that this part holds: a signal that it does not show is not carried by it."""
    counted = events.group_by("signal").agg(here=pl.len().cast(pl.UInt32))
    return (
        log.names.join(counted, on="signal", how="left", maintain_order="left")
        .with_columns(rows=pl.when(pl.col("signal").is_null()).then("rows").otherwise(pl.col("here").fill_null(0)))
        .select(*schema.NAMES.columns)
    )
