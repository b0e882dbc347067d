"""Start and length of each run of a table of finished runs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading import clock
from eventlens.reading.durations import durations, unit_of
from eventlens.reading.profile import Profile
from eventlens.reading.run_columns import RunColumns

BAD_RUN: Final = "end or duration of the run not understood"
NEGATIVE: Final = "the run ends before it starts"
_DAY_US: Final = 86_400_000_000


@dataclass(frozen=True)
class RunTimes:
    """Rows of runs. Microseconds, Float64 and Int64."""

    length: pl.Series
    """Int64; null: unfinished, or not understood."""
    bad: pl.Series
    negative: pl.Series
    notes: tuple[str, ...] = ()


def run_times(frame: pl.DataFrame, columns: RunColumns, profile: Profile) -> RunTimes:
    """The length of each run: end less start where both stand there, else the duration."""
    if columns.start and columns.end:
        return _between(frame, columns, profile)
    if columns.duration is None:
        raise ReadingError(
            "two of start, end and duration of each run",
            ", ".join(f"'{name}'" for name in columns.all),
            "name them in [log] begin, end and duration of the profile",
        )
    unit = profile.log.duration_unit or unit_of(columns.duration)
    found = durations(frame[columns.duration], unit)
    if found.lacks_unit:
        sample = frame[columns.duration].drop_nulls()[0]
        raise ReadingError(
            f"the unit of the durations in column '{columns.duration}'",
            f"'{sample}'",
            "state [log] duration_unit in the profile: ms, s, min or h",
        )
    notes: tuple[str, ...] = ()
    if found.two_parts:
        notes = (f"Durations like 2:03 in '{columns.duration}' are read as minutes and seconds.",)
    length = found.us.round(0).cast(pl.Int64)
    negative = (length < 0).fill_null(False)
    return RunTimes(length, found.bad, negative, notes)


def _between(frame: pl.DataFrame, columns: RunColumns, profile: Profile) -> RunTimes:
    """Both stamps are read as one column, so that day and month stand in the same order in both."""
    rows = frame.height
    both = [
        pl.concat([frame[first].cast(pl.String), frame[second].cast(pl.String)])
        if frame[first].dtype == pl.String
        else pl.concat([frame[first], frame[second].cast(frame[first].dtype)])
        for first, second in zip(columns.start, columns.end, strict=False)
    ]
    if len(columns.start) != len(columns.end):
        raise ReadingError(
            "start and end of each run in as many columns",
            f"{', '.join(columns.start)} and {', '.join(columns.end)}",
            "correct [log] begin and end of the profile",
        )
    stamps = clock.read_clock(both, profile.log.time_format)
    if stamps is None:
        raise ReadingError(
            "stamps at the start and at the end of each run",
            f"columns {', '.join(columns.all)}",
            "correct [log] begin and end of the profile",
        )
    zone = profile.log.timezone or "UTC"
    utc = []
    for begin in (0, rows):
        part = stamps.gather(pl.int_range(begin, begin + rows, eager=True))
        known = part.time.is_not_null()
        part = replace(part, time=part.time.fill_null(strategy="forward").fill_null(strategy="backward").fill_null(0))
        time, missing, _ = clock.to_utc(part, zone, _DAY_US)
        utc.append(pl.select(pl.when(known & ~missing).then(time))[:, 0])
    length = utc[1] - utc[0]
    if set(columns.start) & set(columns.end):  # one date for both: a run may go past midnight
        length = pl.select(pl.when(length < 0).then(length + _DAY_US).otherwise(length))[:, 0]
    own = [frame[name] for name in columns.end if name not in columns.start]
    empty = pl.repeat(True, rows, eager=True)
    for column in own:
        empty = empty & (
            column.is_null() if column.dtype != pl.String else (column.str.strip_chars() == "").fill_null(True)
        )
    bad = utc[1].is_null() & ~empty
    return RunTimes(length, bad, (length < 0).fill_null(False))


def longest_run_us(frame: pl.DataFrame, columns: RunColumns, profile: Profile) -> int:
    """The longest run of a table [microseconds]: so far a row may stand behind the order of the starts."""
    length = run_times(frame, columns, profile).length
    return max(int(length.max() or 0), 0)  # type: ignore[arg-type]
