"""Stamps in parts: text of the date, time of day, offset, mark."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens.reading.clocks import halves, offsets
from eventlens.reading.clocks.stamps import HOUR_US, MINUTE_US, SECOND_US

_GROUPS = ("date", "before", "h", "m", "s", "sep", "f", "half", "zone", "mark")


@dataclass(frozen=True)
class Parts:
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
    zones: pl.Series | None = None
    """Distinct texts of zones, where they are more than plain offsets."""
    marks: pl.Series | None = None
    """Mark after each stamp, null where there is none; None: nowhere."""
    has_time: bool = True
    """The stamps have a time of day."""


def cut(text: pl.Series, pattern: str) -> Parts:
    """Parts of stamps by a pattern with the groups date, before, h, m, s, sep, f, half, zone, mark; null: no fit."""
    groups = text.alias("text").to_frame().select(pl.col("text").str.extract_groups(pattern).alias("g")).unnest("g")
    absent = [pl.lit(None, pl.String).alias(name) for name in _GROUPS if name not in groups.columns]
    groups = groups.with_columns(absent)
    colon = groups["sep"].eq(":").fill_null(False)
    longest = groups["f"].str.len_bytes()
    counts_ms = bool(colon.any()) and int(longest.filter(colon).max() or 0) <= 3  # type: ignore[arg-type]
    fraction = pl.col("f")
    if counts_ms:  # after a colon the milliseconds are a number of their own: :5 is 5 ms
        fraction = pl.when(pl.col("sep") == ":").then(fraction.str.pad_start(3, "0")).otherwise(fraction)
    frame = (
        groups.lazy()
        .with_columns(f=fraction)
        .select(
            date=pl.col("date"),
            clock=_clock(),
            offset=offsets.offset_us(pl.col("zone")),
            digits=pl.col("f").str.len_bytes().fill_null(0),
        )
    )
    parts = frame.collect()
    known = parts["offset"].null_count() < len(text)
    marked = groups["mark"].null_count() < len(text)
    odd = known and not groups["zone"].drop_nulls().head(1000).str.contains(r"^(?:[+-][\d:]+|Z|z)$").all()
    unsure = known and bool(groups["zone"].str.starts_with("-00").any())
    return Parts(
        parts["date"],
        pl.int_range(len(text), dtype=pl.UInt32, eager=True),
        parts["clock"],
        parts["offset"] if known else None,
        int(parts["digits"].max() or 0),  # type: ignore[arg-type]
        groups["zone"].drop_nulls().unique() if odd or unsure else None,
        groups["mark"] if marked else None,
        "(?P<h>" in pattern,
    )


def _clock() -> pl.Expr:
    """Microseconds since midnight from the groups of a pattern; midnight where it has none of an hour."""

    def number(name: str, most: int) -> pl.Expr:
        value = pl.col(name).cast(pl.Int64, strict=False).fill_null(0)
        return pl.when(value <= most).then(value)

    marker = pl.coalesce("before", "half")
    twelve = pl.col("h").cast(pl.Int64, strict=False)
    hour = (
        pl.when(marker.is_null() | (twelve > 12))  # 13:05 PM: the marker adds nothing
        .then(number("h", 24))
        .when(twelve >= 1)
        .then(twelve % 12 + pl.when(halves.is_second(marker)).then(12).otherwise(0))
        .when(twelve == 0)
        .then(pl.when(halves.is_second(marker)).then(12).otherwise(0))
    )
    fraction = pl.col("f").str.pad_end(9, "0").str.head(9).cast(pl.Int64, strict=False).fill_null(0) // 1000
    clock = hour * HOUR_US + number("m", 59) * MINUTE_US + number("s", 60) * SECOND_US + fraction
    cut_off = pl.col("s").is_null() & (pl.col("m").str.len_bytes() == 1)  # 06:0 is the head of 06:00 or of 06:05
    leap = (pl.col("s").cast(pl.Int64, strict=False) == 60) & (hour <= 23)
    return pl.when(((clock <= 24 * HOUR_US) | leap.fill_null(False)) & ~cut_off.fill_null(False)).then(clock)


def merge(rows: int, at: pl.Series | None, parts: Parts, rest: pl.Series, others: Parts) -> Parts:
    """The parts of rows `at` (None: of all), then those of the rows `rest` in place of them."""
    date_at, clock, offset, marks = parts.date_at, parts.clock, parts.offset, parts.marks
    if offset is None:
        offset = pl.repeat(None, len(clock), dtype=pl.Int64, eager=True)
    if at is not None:
        date_at = pl.repeat(0, rows, dtype=pl.UInt32, eager=True).scatter(at, date_at)
        clock = pl.repeat(None, rows, dtype=pl.Int64, eager=True).scatter(at, clock)
        offset = pl.repeat(None, rows, dtype=pl.Int64, eager=True).scatter(at, offset)
    none = pl.repeat(None, len(rest), dtype=pl.Int64, eager=True)
    offset = offset.scatter(rest, none if others.offset is None else others.offset)
    if others.marks is not None:
        marks = pl.repeat(None, rows, dtype=pl.String, eager=True) if marks is None else marks
        marks = marks.scatter(rest, others.marks)
    zones = [found for found in (parts.zones, others.zones) if found is not None]
    return Parts(
        pl.concat([parts.dates, others.dates]),
        date_at.scatter(rest, others.date_at + len(parts.dates)),
        clock.scatter(rest, others.clock),
        offset if offset.null_count() < rows else None,
        max(parts.digits, others.digits),
        pl.concat(zones).unique() if zones else None,
        marks,
        parts.has_time,
    )
