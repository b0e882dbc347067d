"""Which columns hold the stamps: one, date and time, parts of a stamp, or ticks; by their names and a sample."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.arrival import ARRIVAL_WORDS, SOURCE_WORDS
from eventlens.reading.clock import Origin, read_clock
from eventlens.reading.clocks import halves
from eventlens.reading.clocks.ticks import named_like_ticks
from eventlens.reading.clocks.together import TIME_DIGITS

_TIMES: Final = (
    "time timestamp stamp datetime date ts zeit zeitstempel datum uhrzeit heure horodatage hora fecha ora data "
    "tijd moment when czas godzina tag_zeit zeitpunkt ocurrencia horario"
)
TIME_NAMES: Final = frozenset(_TIMES.split())
_MILLIS: Final = (
    "ms msec msecs millis milli millisecond milliseconds msek millisekunde millisekunden milisegundos "
    "millisecondes millisecondi milissegundos milisekundy us usec micros microsecond microseconds mikrosekunden"
)
_FRACTIONS: Final = frozenset(_MILLIS.split())
_PARTS: Final = (
    "year yyyy yr jahr année annee an año ano anno rok jaar",
    "month mo monat mois mes mês mese miesiąc miesiac maand",
    "day dd tag jour día dia giorno dzień dzien dag",
    "hour hh hr stunde heure hora ora godzina uur",
    "minute min mi minuto minuta minuut",
    "second sec ss sekunde seconde segundo secondo sekunda",
)
_WITH_SECONDS: Final = r"\d:\d{1,2}:\d{1,2}(?:\s*\D{0,6})?$"
_OF_DAY: Final = frozenset({"time", "clock", "zeit", "uhrzeit", "heure", "hora", "ora", "czas", "godzina", "tijd"})
"""Words for the time of day in names of columns; those for a date are others."""
_DOTTED: Final = r"^\s*(?:[01]?\d|2[0-3])\.[0-5]\d\.[0-5]\d(?:[.,]\d{1,9})?\s*$"
"""A time of day with points: 06.00.00, which may be a date as well, or 06.00.00.250, which may be an address."""
_HALF: Final = rf"^\s*{halves.ANY}\s*$"
_LIKE_A_TIME: Final = r"^\s*\d{1,2}\D{1,5}\d{2}"
"""A text in a column named for time that can hardly be anything else: two numbers of a clock."""
_ENOUGH: Final = 0.3
"""Share of the cells that must be stamps (common practice, no source)."""


@dataclass
class _Found:
    """Columns by what they hold."""

    stamps: list[str] = field(default_factory=list)
    dates: list[str] = field(default_factory=list)
    clocks: list[str] = field(default_factory=list)
    ticks: list[str] = field(default_factory=list)


def find_time(sample: pl.DataFrame) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The columns that hold the stamps, and notes; no column where none does."""
    found = _Found()
    for name in sample.columns:
        kind = _kind(sample[name])
        if kind is not None:
            getattr(found, kind).append(name)
    if found.stamps:
        named = [name for name in found.stamps if words_of(name) & TIME_NAMES]
        chosen = _of_source(named or found.stamps)[0]
        also = [name for name in found.stamps if name != chosen]
        notes = [f"Column '{n}' holds stamps too; '{chosen}' was taken ([log] time chooses)." for n in also]
        return _with_fraction(sample, (chosen,), notes)
    found.clocks = _of_source(found.clocks)
    if len(found.dates) > 1 and not found.clocks and (dotted := [n for n in found.dates if _is_dotted(sample[n])]):
        found.dates, found.clocks = [name for name in found.dates if name != dotted[0]], dotted[:1]
    if found.dates and not found.clocks:
        found.clocks = [
            name
            for name in sample.columns
            if name not in found.dates and (_is_digits_of_time(sample[name]) or _is_dotted(sample[name]))
        ]
    if found.dates and found.clocks:
        return _with_fraction(sample, (found.dates[0], found.clocks[0]), [])
    if parts := _parts(sample):
        return parts, (f"The stamps stand in parts in the columns {', '.join(parts)}.",)
    if found.clocks:
        if parts := _torn(sample, found.clocks[0]):
            return parts, (f"The stamps are torn over the columns {', '.join(parts)}.",)
        return _with_fraction(sample, (found.clocks[0],), [])
    if found.dates:
        return (found.dates[0],), _days_only(sample, found.dates[0])
    return (*found.ticks[:1],), ()


def _days_only(sample: pl.DataFrame, chosen: str) -> tuple[str, ...]:
    """That stamps show no time of day. ReadingError where a column that is named for it is not understood."""
    for name in sample.columns:
        texts = sample[name].drop_nulls().cast(pl.String)
        if name != chosen and words_of(name) & TIME_NAMES and texts.str.contains(_LIKE_A_TIME).any():
            raise ReadingError(
                f"a time of day in column '{name}' beside the dates in '{chosen}'",
                f"'{texts.filter(texts.str.contains(_LIKE_A_TIME))[0][:40]}'",
                f'write it as 06:00:00, or state time = "{chosen}" under [log] if the day alone will do',
            )
    return (f"The stamps of column '{chosen}' hold the day only, all at 00:00.",)


def _of_source(names: list[str]) -> list[str]:
    """Columns with the instant of the source first, those with the instant of arrival last."""
    return sorted(names, key=lambda name: (not words_of(name) & SOURCE_WORDS, bool(words_of(name) & ARRIVAL_WORDS)))


def words_of(name: str) -> set[str]:
    """The words of a column name: time_stamp, TimeStamp and 'Time stamp' alike."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    return {part for part in re.split(r"[\W_\d]+", parted.lower()) if part} | {name.lower()}


def _kind(column: pl.Series) -> str | None:
    """What a column holds: 'stamps', 'dates', 'clocks', 'ticks', or None for no stamps."""
    if column.dtype in (pl.Datetime, pl.Date):
        return "stamps"
    if column.dtype == pl.Boolean or column.null_count() == len(column):
        return None
    named = bool(words_of(column.name) & TIME_NAMES)
    if column.dtype == pl.String and not named and (not _may_be(column) or _all(column, _DOTTED)):
        return None
    found = read_clock([column], None, Origin())
    if found is None:
        return None
    known = len(column) - found.time.null_count()
    share = known / max(len(column) - column.null_count(), 1)
    if share <= _ENOUGH:
        return None
    if found.floating:
        named = named or "durations" in found.notation
        return "ticks" if (named or named_like_ticks(column.name)) and not _counts_rows(column) else None
    if found.by_size:
        return "stamps" if named or "spreadsheet" not in found.notation else None
    return {"both": "stamps", "date": "dates", "time": "clocks"}[found.holds]


def _is_digits_of_time(column: pl.Series) -> bool:
    """Whether a column is named for time and holds hours, minutes and seconds as one number."""
    text = column.cast(pl.String).str.strip_chars()
    return bool(words_of(column.name) & TIME_NAMES) and _all(text, TIME_DIGITS) and _any(text, r"^\d{5}")


def _is_dotted(column: pl.Series) -> bool:
    """Whether a column is named for the time of day and holds hours, minutes and seconds with points between them."""
    words = words_of(column.name)
    return (
        bool(words & _OF_DAY)
        and not words & {"date", "datum", "data", "fecha"}
        and _all(column.cast(pl.String), _DOTTED)
    )


def _torn(sample: pl.DataFrame, clock: str) -> tuple[str, ...]:
    """Neighbours of a column with the time of day that make a whole stamp with it: May | 9 | 06:00:00 | 2024."""
    names = sample.columns
    at = names.index(clock)
    best: tuple[bool, int, tuple[str, ...]] | None = None
    for first in range(max(at - 4, 0), at + 1):
        for last in range(at, min(at + 3, len(names))):
            columns = [sample[name] for name in names[first : last + 1]]
            if len(columns) == 1 or any(column.dtype != pl.String for column in columns):
                continue
            found = read_clock(columns)
            if found is None or found.holds != "both" or 10 * found.time.null_count() > len(found.time):
                continue
            yearless = any("have no year" in note for note in found.notes)
            rank = (yearless, len(columns), tuple(names[first : last + 1]))
            best = rank if best is None or rank[:2] < best[:2] else best
    return best[2] if best else ()


def _may_be(column: pl.Series) -> bool:
    """Whether cells of a text column can be stamps at all: most of them have two digits."""
    known = column.drop_nulls()
    return bool(len(known)) and float(known.str.contains(r"\d.*\d").mean() or 0) > _ENOUGH  # type: ignore[arg-type]


def _counts_rows(column: pl.Series) -> bool:
    """Whether whole numbers rise by one from row to row (or by the same number in an evenly spaced sample)."""
    number = column.cast(pl.Int64, strict=False).drop_nulls()
    step = number.diff().drop_nulls()
    return len(step) > 1 and int(step.min()) == int(step.max()) == 1  # type: ignore[arg-type]


def _with_fraction(
    sample: pl.DataFrame, chosen: tuple[str, ...], notes: list[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The chosen columns with one of milliseconds, where the stamps end with the second and its name says so."""
    clock = sample[chosen[-1]]
    after = sample.columns[sample.columns.index(chosen[-1]) + 1 :][:1]
    if clock.dtype == pl.String and after and _all(sample[after[0]].cast(pl.String), _HALF):
        return (*chosen, after[0]), tuple(notes)  # AM and PM in a column of their own
    if clock.dtype == pl.String and _all(clock, _WITH_SECONDS):
        for name in sample.columns:
            column = sample[name].cast(pl.String)
            if name not in chosen and words_of(name) & _FRACTIONS and _all(column, r"^\s*\d{1,6}\s*$"):
                return (*chosen, name), (*notes, f"Column '{name}' holds the parts of a second of '{chosen[-1]}'.")
    return chosen, tuple(notes)


def _all(column: pl.Series, pattern: str) -> bool:
    known = column.drop_nulls()
    return bool(len(known)) and float(known.str.contains(pattern).mean() or 0) > 0.9  # type: ignore[arg-type]


def _any(column: pl.Series, pattern: str) -> bool:
    return bool(column.drop_nulls().str.contains(pattern).any())


def _parts(sample: pl.DataFrame) -> tuple[str, ...]:
    """Columns of year, month, day, hour, minute, and where they are second and its parts, by their names."""
    chosen: list[str] = []
    for names in _PARTS:
        wanted = set(names.split())
        match = next((name for name in sample.columns if name not in chosen and _named(name, wanted)), None)
        if match is None:
            break
        chosen.append(match)
    if len(chosen) < 5:
        return ()
    fraction = [name for name in sample.columns if name not in chosen and _named(name, _FRACTIONS)]
    chosen += fraction[:1] if len(chosen) == len(_PARTS) else []
    numbers: Sequence[pl.Series] = [sample[name].cast(pl.UInt32, strict=False) for name in chosen]
    return tuple(chosen) if all(2 * number.null_count() < len(number) for number in numbers) else ()


def _named(name: str, wanted: set[str] | frozenset[str]) -> bool:
    return name.strip().lower() in wanted
