"""Texts of time stamps -> local or absolute microseconds. The notation is decided once for a whole column.

A stamp is cut into its date text and its time parts: at fixed positions where all stamps are written alike, else with
a pattern. Dates are read by distinct text, so that their order (day, month, year) is decided from all of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from eventlens.reading.dates import read_dates
from eventlens.reading.fixed import BLOCK, Longs, Notation

_HOUR: Final = 3_600_000_000
_MINUTE: Final = 60_000_000
_SECOND: Final = 1_000_000

_ZONE: Final = r"(?P<zone>Z|z|UTC|GMT|[+-]\d{2}(?::?\d{2})?)?"
_AFTER: Final = r"\s*(?P<half>[AaPp]\.?\s?[Mm]\.?)?\s*" + _ZONE + r"\s*$"
_PATTERNS: Final = (
    # 2024-05-01 06:00:00.250, 01.05.2024  6:00, 2024-05-01T06:00:00,250+02:00, 05/13/2024 12:05:00 AM
    r"^\s*(?P<date>\S.*?)[T\s,;_]\s*(?P<h>\d{1,2}):(?P<m>\d{1,2})(?::(?P<s>\d{1,2})(?:[.,:\s](?P<f>\d{1,9}))?)?"
    + _AFTER,
    # 20240501T060000.250, 20240501060000
    r"^\s*(?P<date>\d{8})[T\s_-]?(?P<h>\d{2})(?P<m>\d{2})(?P<s>\d{2})(?:[.,](?P<f>\d{1,9}))?" + _AFTER,
    # 2024-05-01 without a time
    r"^\s*(?P<date>\S*\d\S*(?:\s+\S+){0,2}?)(?P<h>x)?(?P<m>x)?(?P<s>x)?(?P<f>x)?(?P<half>x)?(?P<zone>x)?\s*$",
)
_SAMPLE: Final = 200


@dataclass(frozen=True)
class Stamps:
    """A column of stamps, understood as far as possible."""

    time: pl.Series
    """Int64 microseconds since 1970 by the writer's clock (in UTC where an offset was given); null: not understood."""
    absolute: pl.Series | None
    """Boolean: this stamp carried an offset. None: none did."""
    notation: str
    """How the stamps are written, for people."""
    resolution_us: int
    """Smallest step that the notation can show [microseconds]."""
    notes: tuple[str, ...] = ()


def read_stamps(text: pl.Series) -> Stamps | None:
    """The stamps of a text column, or None where hardly any of a sample looks like a stamp."""
    text = text.alias("text")
    sample = _spread(text.drop_nulls(), _SAMPLE)
    if sample.is_empty():
        return None
    shares = [(sample.str.contains(pattern).sum(), -at) for at, pattern in enumerate(_PATTERNS)]
    best, at = max(shares)
    if best < 0.1 * len(sample) or best == 0:
        return None
    pattern = _PATTERNS[-at]
    notation = Notation.of(sample[0])
    parts = _cut(text, pattern) if notation is None else _cut_alike(text, notation, pattern)
    return _assemble(parts)


def _spread(values: pl.Series, count: int) -> pl.Series:
    """At most `count` values, evenly spread from first to last."""
    return values if len(values) <= count else values.gather_every(len(values) // count).head(count)


@dataclass(frozen=True)
class _Parts:
    """Stamps in parts. Equal dates in a row are kept once."""

    dates: pl.Series
    """Texts of dates; null: no stamp."""
    date_at: pl.Series
    """UInt32: position of each row's date in `dates`."""
    clock: pl.Series
    """Int64: microseconds since midnight, null: no stamp."""
    offset: pl.Series | None = None
    """Int64: offset from UTC [microseconds], null where none was written; None: nowhere."""
    digits: int = 0
    """Most decimals of the second."""


def _cut_alike(text: pl.Series, notation: Notation, pattern: str) -> _Parts:
    """Parts of stamps that are mostly written in one notation; the others are cut by the pattern."""
    fits = (text.str.len_bytes() == len(notation.pattern)).fill_null(False)
    at = None if fits.all() else fits.arg_true()
    alike = text if at is None else text.gather(at)
    clock = np.empty(len(alike), np.int64)
    begins: list[Longs] = [np.empty(0, np.int64)]
    for start in range(0, len(alike), BLOCK):
        block = alike.slice(start, BLOCK)
        clock[start : start + len(block)], begin = notation.cut(block)
        begins.append(begin + start)
    begin = np.concatenate(begins)
    repeats = np.diff(np.append(begin, len(alike)))
    parts = _Parts(
        alike.gather(begin).str.head(notation.date),
        pl.Series(np.repeat(np.arange(len(begin), dtype=np.uint32), repeats)),
        pl.Series(clock),
        None if notation.offset_us is None else pl.repeat(notation.offset_us, len(alike), dtype=pl.Int64, eager=True),
        notation.digits,
    )
    if at is None and not (clock < 0).any():
        return parts
    missed = np.full(len(text), True)
    missed[at.to_numpy() if at is not None else slice(None)] = clock < 0
    rest = pl.Series(np.flatnonzero(missed), dtype=pl.UInt32)
    return _merge(len(text), at, parts, rest, _cut(text.gather(rest), pattern))


def _merge(rows: int, at: pl.Series | None, parts: _Parts, rest: pl.Series, others: _Parts) -> _Parts:
    """The parts of rows `at` (None: of all), then those of the rows `rest` in place of them."""
    date_at, clock, offset = parts.date_at, parts.clock, parts.offset
    if offset is None:
        offset = pl.repeat(None, len(clock), dtype=pl.Int64, eager=True)
    if at is not None:
        date_at = pl.repeat(0, rows, dtype=pl.UInt32, eager=True).scatter(at, date_at)
        clock = pl.repeat(None, rows, dtype=pl.Int64, eager=True).scatter(at, clock)
        offset = pl.repeat(None, rows, dtype=pl.Int64, eager=True).scatter(at, offset)
    none = pl.repeat(None, len(rest), dtype=pl.Int64, eager=True)
    offset = offset.scatter(rest, none if others.offset is None else others.offset)
    return _Parts(
        pl.concat([parts.dates, others.dates]),
        date_at.scatter(rest, others.date_at + len(parts.dates)),
        clock.scatter(rest, others.clock),
        offset if offset.null_count() < rows else None,
        max(parts.digits, others.digits),
    )


def _cut(text: pl.Series, pattern: str) -> _Parts:
    """Parts of stamps by a pattern; null where it does not fit."""

    def number(name: str, most: int) -> pl.Expr:
        value = pl.col(name).cast(pl.Int64, strict=False).fill_null(0)
        return pl.when(value <= most).then(value)

    half = pl.col("half").str.slice(0, 1).str.to_lowercase()
    hour = (
        pl.when(half.is_null())
        .then(number("h", 24))
        .when(number("h", 12) >= 1)
        .then(pl.col("h").cast(pl.Int64, strict=False) % 12 + pl.when(half == "p").then(12).otherwise(0))
    )
    zone = pl.col("zone").str.replace_all(":", "")
    minutes = zone.str.slice(1, 2).cast(pl.Int64, strict=False) * 60 + zone.str.slice(3, 2).cast(
        pl.Int64, strict=False
    ).fill_null(0)
    offset = (
        pl.when(zone.str.starts_with("+")).then(minutes).when(zone.str.starts_with("-")).then(-minutes).otherwise(0)
    )
    fraction = pl.col("f").str.pad_end(9, "0").cast(pl.Int64, strict=False).fill_null(0) // 1000
    clock = hour * _HOUR + number("m", 59) * _MINUTE + number("s", 60) * _SECOND + fraction
    frame = (
        text.to_frame()
        .lazy()
        .select(pl.col("text").str.extract_groups(pattern).alias("groups"))
        .unnest("groups")
        .select(
            date=pl.col("date"),
            clock=pl.when(clock <= 24 * _HOUR).then(clock),
            offset=pl.when(pl.col("zone").is_not_null()).then(offset * _MINUTE),
            digits=pl.col("f").str.len_bytes().fill_null(0),
        )
        .collect()
    )
    offset_us = frame["offset"]
    return _Parts(
        frame["date"],
        pl.int_range(len(text), dtype=pl.UInt32, eager=True),
        frame["clock"],
        None if offset_us.null_count() == len(text) else offset_us,
        int(frame["digits"].max() or 0),  # type: ignore[arg-type]
    )


def _assemble(parts: _Parts) -> Stamps | None:
    dates = read_dates(parts.dates)
    if dates is None:
        return None
    midnight = (dates.days.cast(pl.Int64) * (24 * _HOUR)).gather(parts.date_at)
    time = (midnight + parts.clock).alias("time")
    absolute = None
    if parts.offset is not None:
        absolute = parts.offset.is_not_null()
        time = time - parts.offset.fill_null(0)
    digits = min(parts.digits, 6)
    notation = dates.notation + " time" + (f" with {digits} decimals" if digits else "")
    return Stamps(time, absolute, notation, 10 ** (6 - digits), dates.notes)
