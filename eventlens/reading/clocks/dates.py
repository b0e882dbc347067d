"""Texts of dates -> days since 1970; the order of day, month and year is decided from all dates of a column."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

import polars as pl

from eventlens.reading.clocks.months import month_number
from eventlens.reading.clocks.origin import Origin, days_since_1970
from eventlens.reading.clocks.stamps import joined

_WORDS: Final = r"[^\W\d_]+\.?,?"
"""Names of weekdays beside a date of numbers, and the signs for year, month and day of East Asian dates."""
_NUMERIC: Final = r"^(\d{1,4})(?:\s*[-./]\s*|\s+)(\d{1,2})(?:\s*[-./]\s*|\s+)(\d{1,4})[.,]?$"
_RUN_TOGETHER: Final = (
    ("yyyymmdd", r"^(\d{4})(\d{2})(\d{2})$", ("year-month-day",)),
    ("ddmmyyyy", r"^(\d{2})(\d{2})(\d{4})$", ("day.month.year", "month/day/year")),
    ("six digits", r"^(\d{2})(\d{2})(\d{2})$", ("year-month-day", "day.month.year", "month/day/year")),
)
_WEEKDAY: Final = r"^(?:[^\W\d_]+\.?,?\s+)?"
_OF: Final = r"(?:\s*\bde\b\s*)?"
_NAMED: Final = (
    # positions of year, month and day among the groups, then the pattern
    (2, 1, 0, _WEEKDAY + rf"(\d{{1,2}})(?:st|nd|rd|th|\.)?[-./\s]*{_OF}([^\W\d_]+)\.?[-./\s,]*{_OF}(\d{{2,4}})$"),
    (2, 0, 1, _WEEKDAY + r"([^\W\d_]+)\.?[-\s]+(\d{1,2})(?:st|nd|rd|th)?,?[-\s]+(\d{4})$"),
    (0, 1, 2, r"^(\d{4})[-./\s]+([^\W\d_]+)\.?[-./\s]+(\d{1,2})$"),
)
_NAMED_YEARLESS: Final = (
    (1, 0, _WEEKDAY + rf"(\d{{1,2}})(?:st|nd|rd|th|\.)?[-./\s]*{_OF}([^\W\d_]+)[.,]?$"),
    (0, 1, _WEEKDAY + r"([^\W\d_]+)\.?[-\s]+(\d{1,2})(?:st|nd|rd|th)?,?$"),
)
_YEARLESS: Final = r"^(?:[^\W\d_]+\.?,?\s+)?(\d{1,2})[-./](\d{1,2})[.,]?$"
_WEEK: Final = r"^(\d{4})-?W(\d{2})-?([1-7])$"
_ORDINAL: Final = r"^(\d{4})-?(\d{3})$"
_YEARS: Final = (1900, 2261)
"""Years that a log may bear: what polars can hold in nanoseconds, too."""
LEAP_YEAR: Final = 2000
"""Stands in for a missing year: it has a 29 February."""

_ORDERS: Final = MappingProxyType(
    {  # name -> positions of year, month, day
        "day.month.year": (2, 1, 0),
        "month/day/year": (2, 0, 1),
        "year-month-day": (0, 1, 2),
    }
)
_SHORT_ORDERS: Final = MappingProxyType({"day.month": (None, 1, 0), "month/day": (None, 0, 1)})


@dataclass(frozen=True)
class Dates:
    """A column of dates: days since 1970 (Int32, null: no date), how they are written, what had to be assumed."""

    days: pl.Series
    notation: str
    notes: tuple[str, ...] = ()
    readings: tuple[tuple[str, int], ...] = ()
    """Each possible order with the rows that it explains, the taken one first."""
    yearless: bool = False
    """The year is not written; LEAP_YEAR stands in for it."""
    digits_only: bool = False
    """A run of digits, other than yyyymmdd: a date only if a time follows."""


def read_dates(text: pl.Series, rows: pl.Series | None = None, origin: Origin | None = None) -> Dates | None:
    """The dates of a text column (equal texts are read once), or None where none is a date.

    rows: how many rows of the log bear each text, for the accounts of possible readings.
    """
    counted = pl.DataFrame({"text": text, "rows": 1 if rows is None else rows}).drop_nulls("text")
    counted = counted.group_by("text", maintain_order=True).agg(pl.col("rows").sum())
    if counted.is_empty():
        return None
    distinct, weight = counted["text"], counted["rows"]
    readers = (_read_numeric, _read_together, _read_named, _read_week, _read_ordinal, _read_yearless)
    found = _none(distinct)
    for reader in readers:
        dates = reader(distinct.str.strip_chars(), weight, origin or Origin())
        if dates.days.null_count() < found.days.null_count():
            found = dates
        if not found.days.null_count():
            break
    if found.days.null_count() == len(distinct):
        return None
    if len(distinct) == 1:
        days = pl.select(pl.repeat(found.days[0], len(text), dtype=pl.Int32))[:, 0]
        days = days if not text.null_count() else pl.select(pl.when(text.is_not_null()).then(days))[:, 0]
    else:
        days = text.replace_strict(distinct, found.days, default=None, return_dtype=pl.Int32)
    return replace(found, days=days)


def _none(text: pl.Series) -> Dates:
    return Dates(pl.Series([None] * len(text), dtype=pl.Int32), "")


def _read_numeric(text: pl.Series, rows: pl.Series, origin: Origin) -> Dates:
    plain = text.str.replace_all(_WORDS, " ").str.strip_chars()
    return _decide(text, _groups(plain, _NUMERIC), _ORDERS, rows, origin)


def _read_together(text: pl.Series, rows: pl.Series, origin: Origin) -> Dates:
    best = _none(text)
    for name, pattern, orders in _RUN_TOGETHER:
        dates = _decide(text, _groups(text, pattern), {order: _ORDERS[order] for order in orders}, rows, origin)
        if dates.days.null_count() < best.days.null_count():
            best = replace(dates, digits_only=True) if len(orders) > 1 else replace(dates, notation=name)
    return best


def _read_named(text: pl.Series, rows: pl.Series, origin: Origin) -> Dates:
    """Dates with the name of the month, before or after the day."""
    days = _none(text).days
    for year, month, day, pattern in _NAMED:
        parts = _groups(text, pattern)
        number = parts.select(month_number(pl.col(f"p{month}")).alias("m"))["m"]
        more = _to_days(_whole(parts[f"p{year}"]), number, _whole(parts[f"p{day}"]))
        days = pl.select(pl.coalesce(days, more))[:, 0]
    return Dates(days, "day, name of the month, year")


def _read_week(text: pl.Series, rows: pl.Series, origin: Origin) -> Dates:
    """ISO 8601 week dates, 2024-W18-3."""
    days = text.str.replace(_WEEK, "$1-W$2-$3").str.to_date("%G-W%V-%u", strict=False).cast(pl.Int32)
    days = pl.select(pl.when(text.str.contains(_WEEK)).then(days))[:, 0]
    return Dates(days, "year, week, day of the week")


def _read_ordinal(text: pl.Series, rows: pl.Series, origin: Origin) -> Dates:
    """ISO 8601 ordinal dates, 2024-122."""
    parts = _groups(text, _ORDINAL)
    year, day = _whole(parts["p0"]), _whole(parts["p1"])
    first = _to_days(year, _ones(year), _ones(year))
    next_first = _to_days(year + 1, _ones(year), _ones(year))
    days = first + day - 1
    days = pl.select(pl.when((day >= 1) & (days < next_first)).then(days))[:, 0]
    return Dates(days, "year, day of the year", digits_only=not text.str.contains("-", literal=True).any())


def _read_yearless(text: pl.Series, rows: pl.Series, origin: Origin) -> Dates:
    """Month and day without a year."""
    hyphen = bool(text.str.contains(r"\d-\d").any())  # 05-09 is a shortened ISO date
    orders = dict(sorted(_SHORT_ORDERS.items(), reverse=hyphen))
    numbers = _decide(text, _groups(text, _YEARLESS), orders, rows, Origin())
    days = _none(text).days
    for month, day, pattern in _NAMED_YEARLESS:
        parts = _groups(text, pattern)
        number = parts.select(month_number(pl.col(f"p{month}")).alias("m"))["m"]
        leap = pl.Series([LEAP_YEAR], dtype=pl.Int32).new_from_index(0, len(text))
        days = pl.select(pl.coalesce(days, _to_days(leap, number, _whole(parts[f"p{day}"]))))[:, 0]
    named = Dates(days, "name of the month, day", yearless=True)
    return named if days.null_count() <= numbers.days.null_count() else replace(numbers, yearless=True)


def _decide(
    text: pl.Series,
    parts: pl.DataFrame,
    orders: Mapping[str, tuple[int | None, int, int]],
    rows: pl.Series,
    origin: Origin,
) -> Dates:
    """The order of the parts that explains most dates; among equals the most plausible, and that is said.

    orders: name -> positions of year, month and day; the likelier ones first.
    """
    numbers = parts.select(pl.all().cast(pl.Int32, strict=False))
    candidates: dict[str, pl.Series] = {}
    for name, (year, month, day) in orders.items():
        if year is not None and not _year_fits(numbers, year):
            continue
        years = _ones(numbers["p0"]) * LEAP_YEAR if year is None else numbers[f"p{year}"]
        days = _to_days(years, numbers[f"p{month}"], numbers[f"p{day}"])
        if days.null_count() < len(days):
            candidates[name] = days
    if not candidates:
        return _none(text)
    explained = {name: int(rows.filter(days.is_not_null()).sum()) for name, days in candidates.items()}
    fewest = min(days.null_count() for days in candidates.values())
    fitting = {name: days for name, days in candidates.items() if days.null_count() == fewest}
    dotted = bool(text.str.contains(r"\d\.\s?\d").any())
    chosen = min(fitting, key=lambda name: _plausibility(fitting[name], dotted and not name.startswith("day"), origin))
    days = fitting[chosen]
    others = [name for name in fitting if name != chosen and not fitting[name].equals(days)]
    notes: tuple[str, ...] = ()
    if others:
        first = text.filter(days.is_not_null())[0]
        notes = (f"Dates like {first} are read as {chosen}; {joined(others)} would also fit.",)
    readings = tuple(sorted(explained.items(), key=lambda pair: (pair[0] != chosen, -pair[1])))
    return Dates(days, chosen, notes, readings)


def _plausibility(days: pl.Series, against_dots: bool, origin: Origin) -> tuple[int, ...]:
    """Smaller is likelier: dotted dates are day first; then dates that are not after the file was written or far from
    the date in its name, then dates that rise, then the smaller span; then the first of the orders."""
    known = days.drop_nulls()
    backward = int((known.diff().drop_nulls() < 0).sum())
    steps = len(known) - 1
    first, last = int(known.min() or 0), int(known.max() or 0)  # type: ignore[arg-type]
    written = origin.written
    future = written is not None and last > days_since_1970(written.date()) + 1
    named = [days_since_1970(piece.named) for piece in origin.pieces if piece.named]
    elsewhere = sum(not first - 1 <= day <= last + 1 for day in named)
    return (
        int(against_dots),
        elsewhere,
        int(future),
        min(backward, steps - backward),  # newest first is as good as oldest first
        last - first,
    )


def _year_fits(parts: pl.DataFrame, at: int) -> bool:
    """A four-digit part is the year; if there is none, any end may be."""
    four = [bool((parts[name].fill_null(0) > 99).any()) for name in parts.columns]
    return four[at] if any(four) else True


def _groups(text: pl.Series, pattern: str) -> pl.DataFrame:
    """The groups of a pattern as columns p0, p1, ..."""
    groups = text.alias("text").to_frame().select(pl.col("text").str.extract_groups(pattern)).unnest("text")
    return groups.rename({name: f"p{at}" for at, name in enumerate(groups.columns)})


def _whole(text: pl.Series) -> pl.Series:
    return text.cast(pl.Int32, strict=False)


def _ones(like: pl.Series) -> pl.Series:
    return pl.Series([1], dtype=pl.Int32).new_from_index(0, len(like))


def _to_days(year: pl.Series, month: pl.Series, day: pl.Series) -> pl.Series:
    """Days since 1970; null where there is no such day. Two-digit years: 70 to 99 are 19xx (POSIX has 69 to 99)."""
    frame = pl.DataFrame({"y": year, "m": month, "d": day})
    full = pl.when(pl.col("y") >= 100).then("y").when(pl.col("y") >= 70).then(pl.col("y") + 1900)
    years = full.otherwise(pl.col("y") + 2000)
    text = pl.when(years.is_between(*_YEARS)).then(pl.format("{}-{}-{}", years, "m", "d"))
    return frame.select(text.str.to_date("%Y-%m-%d", strict=False).cast(pl.Int32))["y"]
