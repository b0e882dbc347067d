"""Zones and offsets as they are written at the end of a stamp: Z, +02:00, UTC+2, CEST, [Europe/Berlin].

Abbreviations that mean several zones (CST, IST, BST) are read as listed here, and that is said.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

import polars as pl

from eventlens.reading.clocks.stamps import MINUTE_US

_HOURS: Final = MappingProxyType(
    {
        0.0: "z utc gmt wet ut zulu",
        1.0: "cet mez west bst met wesz",
        2.0: "cest mesz eet mest oez sast hec",
        3.0: "eest msk oesz trt",
        4.0: "gst",
        5.5: "ist",
        8.0: "awst hkt sgt",
        9.0: "jst kst",
        9.5: "acst",
        10.0: "aest",
        10.5: "acdt",
        11.0: "aedt",
        12.0: "nzst",
        13.0: "nzdt",
        -2.5: "ndt",
        -3.0: "adt brt art",
        -3.5: "nst",
        -4.0: "ast edt",
        -5.0: "est cdt",
        -6.0: "cst mdt",
        -7.0: "mst pdt",
        -8.0: "pst akdt",
        -9.0: "akst",
        -10.0: "hst",
    }
)
"""Hours ahead of UTC -> abbreviations in lower case, from memory."""
_MINUTES: Final = MappingProxyType(
    {name: round(60 * hours) for hours, names in _HOURS.items() for name in names.split()}
)
_AMBIGUOUS: Final = frozenset({"ist", "cst", "bst", "ast", "gst", "mst", "est"})

PATTERN: Final = (
    r"(?i:(?:UTC|GMT)?\s?[+\-\x{2212}]\d{1,2}(?::?\d{2})?|(?:"
    + "|".join(sorted(_MINUTES, key=len, reverse=True))
    + r")\b)"
)
"""A zone or an offset, without groups."""
REGION: Final = r"\s*\[[A-Za-z_]+(?:/[A-Za-z_+\-\d]+)*\]"
"""The name of a region after an offset: it adds nothing to the instant."""


def offset_us(zone: pl.Expr) -> pl.Expr:
    """Offset from UTC [microseconds] of a zone as matched by PATTERN."""
    plain = zone.str.to_lowercase().str.replace("\u2212", "-", literal=True)
    signed = plain.str.extract(r"([+-])")
    hours = plain.str.extract(r"[+-](\d{1,2})").cast(pl.Int64, strict=False)
    minutes = plain.str.extract(r"[+-]\d{1,2}:?(\d{2})$").cast(pl.Int64, strict=False).fill_null(0)
    size = hours * 60 + minutes
    named = plain.replace_strict(dict(_MINUTES), default=None, return_dtype=pl.Int64)
    return pl.coalesce(pl.when(signed == "-").then(-size).when(signed == "+").then(size), named) * MINUTE_US


def notes_on(zones: pl.Series) -> tuple[str, ...]:
    """What has to be said about the distinct zones of a column."""
    said: list[str] = []
    for zone in sorted(zones.drop_nulls().unique().to_list()):
        name = zone.strip().lower()
        if name in _AMBIGUOUS:
            hours = _MINUTES[name] / 60
            said.append(f"'{zone.strip()}' is read as {hours:+g} h from UTC; it also means other zones.")
        if name in ("-00:00", "-0000", "-00"):
            said.append("The offset -00:00 is read as UTC; it says that the local offset was not known.")
    return tuple(said)
