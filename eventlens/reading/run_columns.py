"""Which columns of a log of finished runs hold start, end and duration."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens.reading.clock import read_clock
from eventlens.reading.durations import durations, unit_of
from eventlens.reading.profile import LogKeys
from eventlens.reading.vocabulary import words_of

_START: Final = words_of(
    """start started begin began beginning from on beginn anfang von ein debut début inicio início inizio da
    od początek"""
)
_END: Final = words_of(
    """end ended stop stopped finish finished to until till off ende bis aus fin fine fim hasta até do koniec"""
)
_DURATION: Final = words_of(
    """duration dauer durée duree duración duracion durata duração duracao runtime laufzeit elapsed länge length
    czas"""
)
_DATE_ONLY: Final = r"^\s*(?:\d{1,4}[-./]\d{1,2}[-./]\d{1,4}\.?)\s*$"
_TIME_ONLY: Final = r"^\s*\d{1,2}:\d{1,2}(?::\d{1,2}(?:[.,]\d+)?)?\s*(?:[AaPp]\.?[Mm]\.?)?\s*$"


@dataclass(frozen=True)
class RunColumns:
    """Start and end stamps, each in one or several columns, and the duration; two of the three are there."""

    start: tuple[str, ...]
    end: tuple[str, ...]
    duration: str | None

    @property
    def all(self) -> tuple[str, ...]:
        return (*self.start, *self.end, *((self.duration,) if self.duration else ()))


def find_runs(sample: pl.DataFrame, keys: LogKeys) -> RunColumns | None:
    """The columns as stated, or by their names and a sample of their cells; None: the table holds no runs."""
    stated = RunColumns(keys.begin, keys.end, keys.duration)
    if not stated.start and not stated.end and keys.duration and keys.time:
        stated = RunColumns(keys.time, (), keys.duration)
    elif not stated.start and keys.end and not keys.duration and keys.time:
        stated = RunColumns(keys.time, keys.end, None)
    if stated.all:
        return stated
    named = [name for name in sample.columns if _words(name) & (_START | _END)]
    if not named:
        return None
    kinds = {name: _kind(sample[name]) for name in named}
    dates = tuple(name for name in sample.columns if name not in kinds and _is_date(sample[name]))
    start = _stamp(sample.columns, kinds, dates, _START)
    end = _stamp(sample.columns, kinds, dates, _END)
    duration = next((n for n in sample.columns if _words(n) & _DURATION and _is_duration(sample[n], n)), None)
    if start and end:
        return RunColumns(start, end, duration)
    return RunColumns(start, end, duration) if duration and (start or end) else None


def _stamp(
    columns: Sequence[str], kinds: dict[str, str], dates: tuple[str, ...], words: frozenset[str]
) -> tuple[str, ...]:
    named = [name for name in columns if _words(name) & words and kinds.get(name)]
    for name in named:
        if kinds[name] == "stamp":
            return (name,)
    clock = next((name for name in named if kinds[name] == "time"), None)
    day = next((name for name in named if kinds[name] == "date"), None) or next(iter(dates), None)
    return (day, clock) if clock and day else ()


def _is_date(column: pl.Series) -> bool:
    known = column.drop_nulls()
    return column.dtype == pl.String and len(known) > 0 and bool(known.str.contains(_DATE_ONLY).all())


def _kind(column: pl.Series) -> str:
    """'stamp', 'date', 'time' or ''."""
    if column.dtype.is_temporal():
        return "" if isinstance(column.dtype, pl.Duration | pl.Time) else "stamp"
    if column.dtype != pl.String:
        return ""
    known = column.drop_nulls()
    if known.is_empty():
        return ""
    for kind, pattern in (("date", _DATE_ONLY), ("time", _TIME_ONLY)):
        if float(known.str.contains(pattern).mean() or 0) > 0.5:  # type: ignore[arg-type]
            return kind
    if float(known.str.contains(r"^\s*[-+]?[\d.,]+\s*$").mean() or 0) > 0.5:  # type: ignore[arg-type]
        known_numbers = known.str.strip_chars().str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
        if float(known_numbers.max() or 0) < 1e8:  # type: ignore[arg-type]
            return ""  # a plain number, no count of seconds since an epoch
    found = read_clock([column])
    return "stamp" if found is not None and found.time.null_count() < 0.7 * len(column) else ""


def _is_duration(column: pl.Series, name: str) -> bool:
    found = durations(column, unit_of(name) or "s")
    return len(column) > 0 and float(found.bad.mean() or 0) < 0.5  # type: ignore[arg-type]


def _words(name: str) -> set[str]:
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    return {part for part in re.split(r"[\W_\d]+", parted.lower()) if part}
