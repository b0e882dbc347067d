"""Texts -> numbers: decimal mark and thousands by the whole column, units by the cell. Nothing is guessed per cell.

`1.250,5` and `1,250.5` each prove a decimal mark; so do `12,5` and `0,250`. Where a column shows only `1.250` or only
`1,250` both readings fit: the mark is then taken as the decimal mark, and that is said (see `maybe_thousands`).
"""

from __future__ import annotations

import re
from types import MappingProxyType
from typing import Final, Literal

import polars as pl

from eventlens.reading.coded import is_coded, places, text_of

Decimal = Literal[".", ","]

_SIGN: Final = r"^[-+]?"
_COMMA: Final = _SIGN + r"(?:(?:\d+|\d{1,3}(?:\.\d{3})+),\d+|[1-9]\d{0,2}(?:\.\d{3}){2,})$"
"""A decimal comma, or points that can only part thousands."""
_COMMA_SURE: Final = _SIGN + r"(?:\d{1,3}(?:\.\d{3})+,\d+|[1-9]\d{0,2}(?:\.\d{3}){2,}|\d+,(?:\d{1,2}|\d{4,})|0\d*,\d+)$"
_POINT_SURE: Final = (
    _SIGN
    + r"(?:\d{1,3}(?:,\d{3})+\.\d+|[1-9]\d{0,2}(?:,\d{3}){2,}|\d*\.(?:\d{1,2}|\d{4,})|0\d*\.\d+)(?:[eE][-+]?\d+)?$"
)
_MAYBE: Final = _SIGN + r"[1-9]\d{0,2}[.,]\d{3}$"
_GROUPED: Final = MappingProxyType(
    {",": _SIGN + r"\d{1,3}(?:\.\d{3})+(?:,\d*)?$", ".": _SIGN + r"\d{1,3}(?:,\d{3})+(?:\.\d*)?$"}
)
_PARTED: Final = r"(\d)[ '’\x{00a0}\x{2009}\x{202f}](\d{3})"
"""Thousands parted by a blank (also a narrow or a fixed one) or an apostrophe."""
_WITH_UNIT: Final = r"^\s*([-+−]?[\d.,'’ \x{00a0}\x{2009}\x{202f}]*\d)\s*([^\d\s.,+-][^\d]*?|m/min|m²)\s*$"

_IN_HEADER: Final = re.compile(
    r"(?:[\[(<]\s*([^\[\](){}<>\d]{1,8}?)\s*[\])>]|\s/\s*([^\s\d/]{1,8})|\bin\s+([^\s\d]{1,8}))\s*$"
)

_UNITS: Final = MappingProxyType(
    {
        "kg": {
            "kg": 1.0,
            "t": 1000.0,
            "to": 1000.0,
            "g": 1e-3,
            "lb": 0.45359237,
            "lbs": 0.45359237,
        },
        "%": {"%": 1.0, "percent": 1.0, "prozent": 1.0, "pct": 1.0},
        "a": {"a": 1.0, "ma": 1e-3, "ka": 1e3, "amp": 1.0},
        "c": {"°c": 1.0, "c": 1.0, "degc": 1.0, "grad": 1.0},
        "m/min": {"m/min": 1.0, "m/s": 60.0, "mm/s": 0.06, "cm/s": 0.6, "mm/min": 1e-3},
        "m": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "dm": 0.1, "km": 1e3, "ft": 0.3048, "in": 0.0254},
    }
)
"""Factors to the unit of a signal (exact by definition of the units)."""


def clean(text: pl.Series) -> pl.Series:
    """Texts without outer blanks, thousands parted by blanks or apostrophes joined, the minus of print as a minus."""
    found = text.str.strip_chars()
    if found.str.contains(r"[ '’−\x{00a0}\x{2009}\x{202f}]").any():
        found = found.str.replace_all("−", "-", literal=True)
        found = found.str.replace_all(_PARTED, "${1}${2}").str.replace_all(_PARTED, "${1}${2}")
    return found


def find_decimal(text: pl.Series) -> Decimal | None:
    """The decimal mark of a text column, or None where no number shows it."""
    text = places(text)[0] if is_coded(text) else text
    if text.dtype != pl.String:
        return "."
    if not text.str.contains(",", literal=True).any():
        odd = text.filter(text.is_not_null() & text.cast(pl.Float64, strict=False).is_null())
        if len(odd) and _bare(odd).str.contains(_COMMA_SURE).any():
            return ","
        return "." if text.str.contains(r"\d\.\d").any() else None
    texts = _bare(text.drop_nulls())
    if texts.str.contains(_POINT_SURE).any():
        return "."
    return "," if texts.str.contains(_COMMA).any() else None


def maybe_thousands(text: pl.Series) -> str | None:
    """A number of the column if each one with a mark could as well have it between thousands (1.250), by a sample."""
    text = text_of(text.drop_nulls().head(2000))
    if text.dtype != pl.String:
        return None
    marked = _bare(text.drop_nulls().head(2000))
    marked = marked.filter(marked.str.contains(r"\d[.,]\d"))
    return str(marked[0]) if len(marked) and bool(marked.str.contains(_MAYBE).all()) else None


def mixed_marks(text: pl.Series) -> bool:
    """Whether some numbers of the column prove a decimal comma and others a decimal point."""
    text = places(text)[0] if is_coded(text) else text
    if text.dtype != pl.String:
        return False
    if not text.str.contains(",", literal=True).any():
        return False
    texts = _bare(text.drop_nulls())
    return bool(texts.str.contains(_COMMA_SURE).any()) and bool(texts.str.contains(_POINT_SURE).any())


def to_number(text: pl.Series, decimal: Decimal | None) -> pl.Series:
    """Float64; null where the text is no number by this decimal mark.

    Cells that the mark cannot explain but the other one can, in one way only (`12.5` in a column with decimal comma),
    are read by the other one.
    """
    cells = clean(text)
    mark: Decimal = decimal or "."
    other: Decimal = "." if mark == "," else ","
    found = cells.str.contains(_GROUPED[mark])
    grouped = cells.str.replace_all(other, "", literal=True).str.replace(mark, ".", literal=True)
    plain = cells.str.replace(mark, ".", literal=True) if mark == "," else cells
    by_mark = pl.select(pl.when(found).then(grouped).when(~cells.str.contains(other, literal=True)).then(plain))[:, 0]
    number = by_mark.cast(pl.Float64, strict=False)
    sure = _COMMA_SURE if mark == "." else _POINT_SURE
    left = number.is_null() & cells.str.contains(sure)
    if not left.any():
        return number
    foreign = cells.str.replace_all(mark, "", literal=True).str.replace(other, ".", literal=True)
    return pl.select(pl.when(left).then(foreign.cast(pl.Float64, strict=False)).otherwise(number))[:, 0]


def unit_of_signal(signal: str) -> str:
    """The unit that a measured signal's name ends with."""
    if signal.endswith("m_per_min"):
        return "m/min"
    last = signal.rsplit(".", 1)[-1]
    tail = last.rsplit("_", 1)[-1]
    return "%" if tail == "percent" else tail


def split_units(text: pl.Series) -> tuple[pl.Series, pl.Series]:
    """The number texts of cells like `12,5 kg`, and their units in lower case (null: none)."""
    parts = text.str.extract_groups(_WITH_UNIT).struct.unnest()
    unit = parts[:, 1].str.strip_chars().str.to_lowercase()
    number = pl.select(pl.when(unit.is_not_null()).then(parts[:, 0]).otherwise(text))[:, 0]
    return number, unit


def unit_in(header: str) -> str | None:
    """The unit that a column's name ends with: 'Load [t]', 'Load (kN)', 'Current / A', 'Hub in mm'; None: none."""
    found = _IN_HEADER.search(header)
    return next(part for part in found.groups() if part) if found else None


def factor_of(unit: str, signal: str) -> float | None:
    """What a number in this unit is multiplied by to be in the signal's own; None where that is not known."""
    return _UNITS.get(unit_of_signal(signal), {}).get(unit.replace(" ", "").lower())


def unit_factors(unit: pl.Series, to: str) -> pl.Series:
    """What a number with this unit is multiplied by to be in the signal's unit; null where that is not known."""
    return unit.str.replace_all(" ", "", literal=True).replace_strict(
        _UNITS.get(to, {}), default=None, return_dtype=pl.Float64
    )


def _bare(text: pl.Series) -> pl.Series:
    """Number texts without blanks, thousands parts and units."""
    cells = clean(text)
    if cells.str.contains(r"\d\s*[^\d\s.,eE+-]").any():
        cells = clean(split_units(cells)[0])
    return cells
