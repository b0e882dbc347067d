"""Texts of dates -> days since 1970; the order of day, month and year is decided from all dates of a column."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import polars as pl

_NUMERIC: Final = r"^\D{0,6}?(\d{1,4})[-./\s](\d{1,2})[-./\s](\d{1,4})\.?$"
_COMPACT: Final = r"^(\d{4})(\d{2})(\d{2})$"
_WEEKDAY: Final = r"^(?:[^\W\d_]+\.?,?\s+)?"
_DAY_NAME_YEAR: Final = _WEEKDAY + r"(\d{1,2})\.?[-./\s]*([^\W\d_]+)\.?[-./\s,]*(\d{2,4})$"
_NAME_DAY_YEAR: Final = _WEEKDAY + r"([^\W\d_]+)\.?[-\s]+(\d{1,2}),?[-\s]+(\d{4})$"

_MONTHS: Final = MappingProxyType(
    {
        stem: number
        for number, stems in enumerate(
            (
                "jan gen ene",
                "feb fév fev",
                "mar mär mrz maa maerz",
                "apr avr abr",
                "may mai mag mei maj",
                "jun juin giu",
                "jul juil lug",
                "aug aoû aou ago",
                "sep set",
                "oct okt ott out",
                "nov",
                "dec dez déc dic",
            ),
            1,
        )
        for stem in stems.split()
    }
)
"""Beginnings of month names in English, German, French, Italian, Spanish, Portuguese and Dutch, from memory."""

_PARTS: Final = ("a", "b", "c")
_ORDERS: Final = MappingProxyType(
    {  # name -> positions of year, month, day
        "day.month.year": (2, 1, 0),
        "month/day/year": (2, 0, 1),
        "year-month-day": (0, 1, 2),
    }
)


@dataclass(frozen=True)
class Dates:
    """A column of dates: days since 1970 (Int32, null: no date), how they are written, what had to be assumed."""

    days: pl.Series
    notation: str
    notes: tuple[str, ...] = ()


def read_dates(text: pl.Series) -> Dates | None:
    """The dates of a text column (equal texts are read once), or None where none is a date."""
    distinct = text.unique(maintain_order=True).drop_nulls()
    if distinct.is_empty():
        return None
    found = max(
        (reader(distinct) for reader in (_read_numeric, _read_compact, _read_named)),
        key=lambda dates: len(dates.days) - dates.days.null_count(),
    )
    if found.days.null_count() == len(distinct):
        return None
    if len(distinct) == 1:
        days = pl.select(pl.repeat(found.days[0], len(text), dtype=pl.Int32))[:, 0]
        days = days if not text.null_count() else pl.select(pl.when(text.is_not_null()).then(days))[:, 0]
    else:
        days = text.replace_strict(distinct, found.days, default=None, return_dtype=pl.Int32)
    return Dates(days, found.notation, found.notes)


def _read_compact(text: pl.Series) -> Dates:
    parts = _parts(text, _COMPACT)
    return Dates(_days(parts, _ORDERS["year-month-day"]), "yyyymmdd")


def _read_named(text: pl.Series) -> Dates:
    """Dates with the name of the month, before or after the day."""
    frame = text.alias("text").to_frame()
    first = pl.col("text").str.extract_groups(_DAY_NAME_YEAR)
    other = pl.col("text").str.extract_groups(_NAME_DAY_YEAR)
    named = frame.select(
        year=pl.coalesce(first.struct.field("3"), other.struct.field("3")).cast(pl.Int32, strict=False),
        month=_month_number(pl.coalesce(first.struct.field("2"), other.struct.field("1"))),
        day=pl.coalesce(first.struct.field("1"), other.struct.field("2")).cast(pl.Int32, strict=False),
    )
    return Dates(_to_days(named["year"], named["month"], named["day"]), "day, name of the month, year")


def _month_number(name: pl.Expr) -> pl.Expr:
    folded = name.str.to_lowercase()
    number: pl.Expr = pl.lit(None, pl.Int32)
    for length in (3, 4, 5):  # juin and juil, mar and maerz differ only further on
        stems = {stem: month for stem, month in _MONTHS.items() if len(stem) == length}
        number = pl.coalesce(
            folded.str.slice(0, length).replace_strict(stems, default=None, return_dtype=pl.Int32), number
        )
    return number


def _read_numeric(text: pl.Series) -> Dates:
    parts = _parts(text, _NUMERIC)
    candidates = {
        name: days
        for name, order in _ORDERS.items()
        if (days := _days(parts, order)).null_count() < len(days) and _year_fits(parts, order[0])
    }
    if not candidates:
        return Dates(pl.Series([None] * len(text), dtype=pl.Int32), "")
    fewest = min(days.null_count() for days in candidates.values())
    fitting = {name: days for name, days in candidates.items() if days.null_count() == fewest}
    dotted = bool(text.str.contains(r"\d\.\d").any())
    chosen = min(fitting, key=lambda name: _plausibility(name, fitting[name], dotted))
    days = fitting[chosen]
    others = [name for name in fitting if name != chosen and not fitting[name].equals(days)]
    notes: tuple[str, ...] = ()
    if others:
        first = text.filter(days.is_not_null())[0]
        notes = (f"Dates like {first} are read as {chosen}; {' and '.join(others)} would also fit.",)
    return Dates(days, chosen, notes)


def _plausibility(name: str, days: pl.Series, dotted: bool) -> tuple[int, int, int, int]:
    """Smaller is likelier: dotted dates are day first; then dates that rise, then the smaller span, then day first."""
    known = days.drop_nulls()
    backward = int((known.diff().drop_nulls() < 0).sum())
    steps = len(known) - 1
    span = int(known.max() or 0) - int(known.min() or 0)  # type: ignore[arg-type]
    return (
        int(dotted and name != "day.month.year"),
        min(backward, steps - backward),  # newest first is as good as oldest first
        span,
        list(_ORDERS).index(name),
    )


def _year_fits(parts: pl.DataFrame, at: int) -> bool:
    """A four-digit part is the year; if there is none, any end may be."""
    four = [bool((parts[name].fill_null(0) > 99).any()) for name in _PARTS]
    return four[at] if any(four) else True


def _parts(text: pl.Series, pattern: str) -> pl.DataFrame:
    groups = text.alias("text").to_frame().select(pl.col("text").str.extract_groups(pattern)).unnest("text")
    return groups.rename(dict(zip(groups.columns, _PARTS, strict=True))).cast(pl.Int32, strict=False)


def _days(parts: pl.DataFrame, order: tuple[int, int, int]) -> pl.Series:
    year, month, day = (parts[_PARTS[at]] for at in order)
    return _to_days(year, month, day)


def _to_days(year: pl.Series, month: pl.Series, day: pl.Series) -> pl.Series:
    """Days since 1970; null where there is no such day. Two-digit years: 70 to 99 are 19xx (POSIX has 69 to 99)."""
    frame = pl.DataFrame({"y": year, "m": month, "d": day})
    full = pl.when(pl.col("y") >= 100).then("y").when(pl.col("y") >= 70).then(pl.col("y") + 1900)
    text = pl.format("{}-{}-{}", full.otherwise(pl.col("y") + 2000), "m", "d")
    return frame.select(text.str.to_date("%Y-%m-%d", strict=False).cast(pl.Int32))["y"]
