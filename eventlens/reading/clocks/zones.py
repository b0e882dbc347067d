"""Local time -> UTC by an IANA zone, both ways through the change of the clocks; what can be seen without a zone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Final

import numpy as np
import polars as pl

from eventlens.reading.clocks.origin import days_since_1970
from eventlens.reading.clocks.stamps import DAY_US, HOUR_US, MINUTE_US, Stamps, either, lines_said

_LONGEST_SPAN: Final = 30
"""Years of a record whose days of change are looked at."""


def to_utc(stamps: Stamps, zone: str, late_us: int) -> tuple[pl.Series, pl.Series, tuple[str, ...]]:
    """Int64 microseconds in UTC, a mask of hours that the zone leaves out, and notes. Rows in the order of the record.

    The hour that is repeated in autumn is told apart by the stamps themselves where they say summer time, else by that
    order: up to the step back it is the first pass (summer time), after it the second. Steps back of at most `late_us`
    are late arrivals, no step.
    """
    nothing = pl.repeat(False, len(stamps.time), eager=True)
    if zone == "UTC" or stamps.floating or (stamps.absolute is not None and stamps.absolute.all()):
        return stamps.time, nothing, ()
    # the offset is the same within one minute, so each stretch of equal minutes is looked up once
    minutes = (stamps.time // MINUTE_US).rle().struct.unnest()
    local = (minutes["value"] * MINUTE_US).cast(pl.Datetime("us"))
    first = local.dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    last = local.dt.replace_time_zone(zone, ambiguous="latest", non_existent="null")

    def spread(column: pl.Series) -> pl.Series:
        return pl.Series(np.repeat(column.to_numpy(), minutes["len"].to_numpy()))

    offset = spread((local.cast(pl.Int64) - first.cast(pl.Int64)).fill_null(0))
    missing = spread(first.is_null()) if first.null_count() else nothing
    twice = (first != last).fill_null(False)
    notes: tuple[str, ...] = ()
    if twice.any():
        both = spread(twice)
        if stamps.summer is not None:
            second = both & ~stamps.summer
        else:
            second, notes = _second_pass(stamps.time, both, late_us)
        later = spread((local.cast(pl.Int64) - last.cast(pl.Int64)).fill_null(0))
        offset = pl.select(pl.when(second).then(later).otherwise(offset))[:, 0]
    if stamps.absolute is not None:
        offset = pl.select(pl.when(stamps.absolute).then(0).otherwise(offset))[:, 0]
        missing = missing & ~stamps.absolute
    return stamps.time - offset, missing, notes


def _second_pass(time: pl.Series, both: pl.Series, late_us: int) -> tuple[pl.Series, tuple[str, ...]]:
    """Which rows of a repeated hour belong to its second pass."""
    frame = pl.DataFrame({"t": time, "both": both}).with_columns(day=pl.col("t") // DAY_US)
    back = pl.col("both") & (pl.col("t").diff() < -late_us) & pl.col("both").shift()
    frame = frame.with_columns(passed=back.fill_null(False).cast(pl.Int32).cum_sum().over("day"))
    second = frame["both"] & (frame["passed"] > 0)
    unclear = frame.filter(pl.col("both")).group_by("day").agg(pl.col("passed").max()).filter(pl.col("passed") == 0)
    if unclear.is_empty():
        return second, ()
    return second, ("Stamps in the hour that is repeated in autumn show no step back: read as summer time.",)


def without_zone(stamps: Stamps, late_us: int, lines: pl.Series | None = None) -> Stamps:
    """Local stamps of which no zone is stated: the change of the clocks is looked for, marked as a break, and said."""
    if stamps.absolute is not None and stamps.absolute.all():
        return stamps
    stamps = _by_summer_bit(stamps)
    known = stamps.time.drop_nulls()
    if known.is_empty() or stamps.floating:
        return stamps
    step = known.diff().drop_nulls()
    down = int((step < 0).sum())
    if down > 1 and int((step > 0).sum()) <= 0.1 * down:  # newest first
        return _changes_said(stamps.reverse(), late_us, None if lines is None else lines.reverse()).reverse()
    return _changes_said(stamps, late_us, lines)


def _changes_said(stamps: Stamps, late_us: int, lines: pl.Series | None) -> Stamps:
    """Oldest first: breaks where clocks may have gone back, and what has to be said."""
    known = stamps.time.drop_nulls()
    first, last = int(known.min()) // DAY_US, int(known.max()) // DAY_US  # type: ignore[arg-type]
    back = (stamps.time.diff() < -late_us) & (stamps.time.diff() >= -HOUR_US)
    for day, forward in _changes(first, last):
        inside = stamps.time.is_between(day * DAY_US, day * DAY_US + 5 * HOUR_US)
        if not inside.any():
            continue
        shown = date.fromordinal(date(1970, 1, 1).toordinal() + day)
        if forward:
            if _hour_left_out(stamps.time.filter(inside)):
                stamps = stamps.say(
                    f"On {shown} the clocks go forward in many zones and the record leaves out an hour: without [log] "
                    "timezone it is counted as time that passed."
                )
            continue
        step = (back & inside).fill_null(False)
        if step.any():
            stamps = replace(stamps, breaks=either(stamps.breaks, step)).say(
                f"On {shown}, when the clocks go back in many zones, the stamps step back by up to an hour "
                f"({lines_said(step, lines)}): without [log] timezone no duration is taken across."
            )
    return stamps


def _by_summer_bit(stamps: Stamps) -> Stamps:
    """Stamps that say summer time themselves, moved to standard time where both kinds occur."""
    if stamps.summer is None or stamps.summer.all():
        return stamps
    time = pl.select(pl.when(stamps.summer).then(stamps.time - HOUR_US).otherwise(stamps.time))[:, 0]
    note = "Stamps with the summer-time bit are read in standard time, an hour less, so that durations are right."
    return replace(stamps, time=time, summer=None).say(note)


def _changes(first_day: int, last_day: int) -> Iterator[tuple[int, bool]]:
    """Days since 1970 on which clocks change in Europe or North America, and whether they go forward."""
    begin = date.fromordinal(date(1970, 1, 1).toordinal() + first_day).year
    end = date.fromordinal(date(1970, 1, 1).toordinal() + last_day).year
    for year in range(begin, min(end, begin + _LONGEST_SPAN) + 1):
        for day, forward in (
            (_sunday(year, 3, -1), True),
            (_sunday(year, 3, 2), True),
            (_sunday(year, 10, -1), False),
            (_sunday(year, 11, 1), False),
        ):
            if first_day <= day <= last_day:
                yield day, forward


def _sunday(year: int, month: int, which: int) -> int:
    """Days since 1970 of the first, second or (-1) last Sunday of a month."""
    first = date(year, month, 1)
    if which < 0:
        following = date(year + month // 12, month % 12 + 1, 1)
        found = following - timedelta(days=(following.weekday() + 1) % 7 or 7)
    else:
        found = first + timedelta(days=(6 - first.weekday()) % 7 + 7 * (which - 1))
    return days_since_1970(found)


def _hour_left_out(time: pl.Series) -> bool:
    """Whether one of the hours from 1:00 to 4:00 has no stamp while the hours before and after it have some."""
    hours = set((time % DAY_US // HOUR_US).unique().to_list())
    return any(hour not in hours and hour - 1 in hours and hour + 1 in hours for hour in (1, 2, 3))
