"""Clock bytes as they stand in a controller's memory, printed as numbers of two digits.

Eight bytes: BCD date and time (year month day hour minute second, milliseconds and weekday in the last two; IEC 61131-3
controllers). Seven bytes: CP56Time2a of IEC 60870-5, least byte first, with bits for invalid and summer time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens.reading.clocks.stamps import DAY_US, HOUR_US, MINUTE_US, Stamps, share

_MARK: Final = r"(?i)0x|16#|\\x|\bh\b"
_BYTE: Final = r"[0-9A-Fa-f]{1,2}"
_SEPARATORS: Final = (r"\s+", r"\s*,\s*", r"\s*;\s*", "-", ":", "_", r"\s*\|\s*")
_APART: Final = "|".join(rf"(?:{_BYTE}{mark}){{6,7}}{_BYTE}" for mark in _SEPARATORS)
_DECIMAL: Final = "|".join(rf"(?:\d{{1,3}}{mark}){{6,7}}\d{{1,3}}" for mark in _SEPARATORS[:3])
_PATTERN: Final = rf"^[\s\[({{]*(?:{_APART}|{_DECIMAL})[\s\])}}]*$"
_TOGETHER: Final = r"^\s*(?:[0-9A-Fa-f]{16}|[0-9A-Fa-f]{14})\s*$"
_ENOUGH: Final = 0.6
"""Share of a sample that must be a possible date and time."""
_FIRST_WEEKDAY: Final = 4
"""1970-01-01 was a Thursday: 4 days after a Sunday."""


@dataclass(frozen=True)
class _Read:
    """Bytes as instants: microseconds (null: impossible), weekday agrees (null: unset), summer-time bit."""

    time: pl.Series
    agrees: pl.Series
    summer: pl.Series | None = None


def looks_like_octets(sample: pl.Series) -> bool:
    """Whether a sample of texts may be clock bytes."""
    plain = sample.str.replace_all(_MARK, "")
    return share(plain.str.contains(_PATTERN) | plain.str.contains(_TOGETHER)) >= _ENOUGH


def read_octets(text: pl.Series, sample: pl.Series, stated: str | None = None) -> Stamps | None:
    """The stamps of a column of clock bytes, or None where they are none. stated: 'bcd' or 'cp56'."""
    best: tuple[float, str, int] | None = None
    together = share(sample.str.contains(_TOGETHER)) >= _ENOUGH
    for kind, count in (("bcd", 8), ("cp56", 7)):
        for base in (16, 10):
            if (stated and kind != stated) or (together and base == 10):
                continue
            found = _read(sample, kind, count, base)
            right = share(found.time.is_not_null() & found.agrees.fill_null(True))
            checked = share(found.agrees.fill_null(False))
            if together and not stated and not checked and not sample.str.contains("[A-Fa-f]").any():
                continue  # a run of digits is a number or a date, unless its weekday shows what it is
            if right >= _ENOUGH and (best is None or right > best[0]):
                best = (right, kind, base)
    if best is None:
        return None
    _, kind, base = best
    return _stamps(text, _read(text, kind, 8 if kind == "bcd" else 7, base), kind, base)


def _read(text: pl.Series, kind: str, count: int, base: int) -> _Read:
    plain = pl.col("t").str.replace_all(_MARK, "").str.replace_all(r"[^0-9A-Fa-f]+", " ").str.strip_chars()
    parted = plain.str.replace_all(r"([0-9A-Fa-f]{2})", "$1 ")
    cells = pl.when(plain.str.contains(_TOGETHER)).then(parted).otherwise(plain)
    cells = cells.str.strip_chars().str.split(" ")
    cells = pl.when(cells.list.len() == count).then(cells)
    texts = [cells.list.get(at, null_on_oob=True) for at in range(count)]
    octet = [text_.str.to_integer(base=base, dtype=pl.Int64, strict=False) for text_ in texts]
    frame = (
        text.alias("t")
        .to_frame()
        .select(pl.when(byte.is_between(0, 255)).then(byte).alias(f"b{at}") for at, byte in enumerate(octet))
    )
    return _bcd(frame) if kind == "bcd" else _cp56(frame)


def _bcd(octets: pl.DataFrame) -> _Read:
    """Year 90 to 99 are 19xx; the low half of the last byte is the weekday, 1 Sunday, 0 unset."""

    def decimal(name: str) -> pl.Expr:
        byte = pl.col(name)
        return pl.when((byte // 16 <= 9) & (byte % 16 <= 9)).then(byte // 16 * 10 + byte % 16)

    year = decimal("b0")
    last = pl.col("b7")
    millis = pl.when(last // 16 <= 9).then(decimal("b6") * 10 + last // 16)
    return _assemble(
        octets,
        year + pl.when(year >= 90).then(1900).otherwise(2000),
        decimal("b1"),
        decimal("b2"),
        decimal("b3"),
        decimal("b4"),
        decimal("b5") * 1000 + millis,
        pl.when(decimal("b5") <= 59).then(last % 16),
        sunday=1,
    )


def _cp56(octets: pl.DataFrame) -> _Read:
    """Weekday 1 Monday, 0 unused; bit 7 of the minutes: invalid; bit 7 of the hours: summer time."""
    millis = pl.col("b0") + pl.col("b1") * 256
    minute = pl.when(pl.col("b2") < 128).then(pl.col("b2") % 64)
    year = pl.col("b6") % 128
    found = _assemble(
        octets,
        pl.when(year <= 99).then(year + pl.when(year >= 70).then(1900).otherwise(2000)),
        pl.col("b5") % 16,
        pl.col("b4") % 32,
        pl.col("b3") % 32,
        minute,
        pl.when(millis <= 59_999).then(millis),
        pl.col("b4") // 32,
        sunday=7,
    )
    return _Read(found.time, found.agrees, octets.select(s=(pl.col("b3") >= 128).fill_null(False))["s"])


def _assemble(
    octets: pl.DataFrame,
    year: pl.Expr,
    month: pl.Expr,
    day: pl.Expr,
    hour: pl.Expr,
    minute: pl.Expr,
    millis: pl.Expr,
    weekday: pl.Expr,
    sunday: int,
) -> _Read:
    parts = octets.select(year=year, month=month, day=day, hour=hour, minute=minute, millis=millis, weekday=weekday)
    date = pl.format("{}-{}-{}", "year", "month", "day").str.to_date("%Y-%m-%d", strict=False).cast(pl.Int64)
    clock = (
        pl.when(pl.col("hour") <= 23).then(pl.col("hour") * HOUR_US)
        + pl.when(pl.col("minute") <= 59).then(pl.col("minute") * MINUTE_US)
        + pl.when(pl.col("millis") <= 59_999).then(pl.col("millis") * 1000)
    )
    real = (date + _FIRST_WEEKDAY) % 7  # 0 Sunday
    told = pl.col("weekday") % 7 if sunday == 7 else pl.col("weekday") - 1
    agrees = pl.when(pl.col("weekday") > 0).then(told == real)
    frame = parts.select(time=date * DAY_US + clock, agrees=agrees)
    return _Read(frame["time"], frame["agrees"])


def _stamps(text: pl.Series, read: _Read, kind: str, base: int) -> Stamps:
    name = "clock bytes, BCD" if kind == "bcd" else "clock bytes, CP56Time2a"
    name += " printed in decimal" if base == 10 else ""
    notes = []
    wrong = int((~read.agrees).fill_null(False).sum())
    if wrong:
        notes.append(f"The weekday of {wrong} stamps is not the one of their date: it was passed over.")
    undated = read.time.is_null() & text.is_not_null()
    return Stamps(
        read.time,
        None,
        name,
        1_000,
        tuple(notes),
        undated=undated if undated.any() else None,
        summer=read.summer if read.summer is not None and read.summer.any() else None,
        readings=((name, len(read.time) - read.time.null_count()),),
    )
