"""Texts of durations -> microseconds: plain numbers, 1:02:03, 2:03 (minutes), T#1m20s, PT1M20S, 1 h 20 min."""

from __future__ import annotations

import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

import polars as pl

from eventlens.reading.numerals import find_decimal, to_number

Unit = Literal["ms", "s", "min", "h"]
UNIT_US: Final = MappingProxyType({"ms": 1e3, "s": 1e6, "min": 6e7, "h": 3.6e9})
_IN_HEADER: Final = re.compile(
    r"(?:^|[\s\[(_/.,-])(ms|msec|millis|milliseconds|s|sec|secs|sek|seconds?|sekunden|segundos|secondes|secondi|sekundy"
    r"|min|mins|minutes?|minuten|minutos|minuti|minuty|h|hrs?|hours?|std|stunden|heures|horas|ore|godziny)[\])]?\s*$",
    re.IGNORECASE,
)
_COLONS: Final = r"^(?:(\d+)[.d]\s*)?(\d+):(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)$"
_TWO_PARTS: Final = r"^(\d+):(\d{1,2}(?:[.,]\d+)?)$"
_NUMBER: Final = r"(\d+(?:[.,]\d+)?)"
_TOKENS: Final = (
    (_NUMBER + r"(?:ms|msec|millis)", 1e3),
    (_NUMBER + r"(?:days?|tage?|jours?|d)", 8.64e10),
    (_NUMBER + r"(?:hours?|hrs?|stunden|std\.?|h)", 3.6e9),
    (_NUMBER + r"(?:minutes?|minuten|mins?|m)", 6e7),
    (_NUMBER + r"(?:seconds?|sekunden|secs?|sek\.?|s)", 1e6),
)


@dataclass(frozen=True)
class Durations:
    """Lengths of time."""

    us: pl.Series
    """Float64 microseconds; null: none or not understood."""
    bad: pl.Series
    lacks_unit: bool
    """Some are plain numbers, and nothing says of which unit: these are null."""
    two_parts: bool
    """Some are written like 2:03, read as minutes and seconds."""


def unit_of(name: str) -> Unit | None:
    """The unit that a column's name ends with: 'Length [ms]', 'duration_s', 'Dauer in min'."""
    found = _IN_HEADER.search(name)
    if found is None:
        return None
    word = found[1].lower()
    if word.startswith(("ms", "mil")):
        return "ms"
    return "min" if word.startswith("mi") else "s" if word.startswith("s") and not word.startswith("st") else "h"


def durations(column: pl.Series, unit: Unit | None) -> Durations:
    """The lengths of time in a column; `unit` is that of plain numbers, and of 1:20 where it is h (h:mm)."""
    if isinstance(column.dtype, pl.Duration):
        us = column.dt.total_microseconds().cast(pl.Float64)
        return Durations(us, pl.repeat(False, len(column), eager=True), False, False)
    if column.dtype.is_numeric():
        plain = column.cast(pl.Float64)
        text = pl.repeat(None, len(column), dtype=pl.String, eager=True)
    else:
        text = column.cast(pl.String).str.strip_chars().replace("", None)
        plain = to_number(text, find_decimal(text))
    scale = UNIT_US[unit] if unit else None
    us = plain * scale if scale else pl.repeat(None, len(column), dtype=pl.Float64, eager=True)
    is_two = text.str.contains(_TWO_PARTS).fill_null(False)
    us = pl.select(pl.coalesce(us, _colons(text), _two_parts(text, unit), _tokens(text)))[:, 0]
    lacks = plain.is_not_null() & us.is_null()
    bad = us.is_null() & column.is_not_null() & text.is_not_null() if text.null_count() < len(text) else lacks
    return Durations(us, bad | lacks, bool(lacks.any()), bool(is_two.any()) and unit not in ("h", "min"))


def _float(column: pl.Series) -> pl.Series:
    return column.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)


def _colons(text: pl.Series) -> pl.Series:
    parts = text.str.extract_groups(_COLONS).struct.unnest()
    day, hour, minute, second = (_float(parts[:, at]) for at in range(4))
    return (day.fill_null(0) * 24 + hour) * 3.6e9 + minute * 6e7 + second * 1e6


def _two_parts(text: pl.Series, unit: Unit | None) -> pl.Series:
    parts = text.str.extract_groups(_TWO_PARTS).struct.unnest()
    large = UNIT_US["h"] if unit == "h" else UNIT_US["min"]
    return _float(parts[:, 0]) * large + _float(parts[:, 1]) * (large / 60)


def _tokens(text: pl.Series) -> pl.Series:
    """Numbers with units, largest first or not; null where anything else is left over."""
    left = text.str.to_lowercase().str.replace_all(r"[_\s]", "").str.replace(r"^(?:l?t(?:ime)?#|p)", "")
    left = left.str.replace(r"^(\d+d)?t", "${1}")
    total = pl.repeat(0.0, len(text), eager=True)
    for pattern, scale in _TOKENS:
        amount = _float(left.str.extract(pattern))
        total = total + amount.fill_null(0) * scale
        left = left.str.replace(pattern, "")
    known = text.is_not_null() & (left == "") & text.str.contains(r"\d")
    return pl.select(pl.when(known).then(total))[:, 0]
