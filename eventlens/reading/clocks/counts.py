"""Counts since an epoch -> instants: seconds to nanoseconds since 1970 or another first day, and spreadsheet days.

The unit of each number is told by its size, for a whole column, and mixed units are said. Another epoch than 1970 is
taken where the profile states it, or where 1970 would lead out of any log's life; where both are thinkable, it is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from types import MappingProxyType
from typing import Final

import polars as pl

from eventlens.reading.clocks.origin import Origin, days_since_1970
from eventlens.reading.clocks.stamps import DAY_US, SECOND_US, Stamps, joined

UNIX: Final = date(1970, 1, 1)
UNITS: Final = MappingProxyType(
    {  # name -> microseconds in one, as numerator and denominator
        "epoch_s": (SECOND_US, 1),
        "epoch_ms": (1_000, 1),
        "epoch_us": (1, 1),
        "epoch_ns": (1, 1_000),
        "epoch_100ns": (1, 10),
        "serial_days": (DAY_US, 1),
    }
)
_WORDS: Final = MappingProxyType(
    {
        "epoch_s": "seconds",
        "epoch_ms": "milliseconds",
        "epoch_us": "microseconds",
        "epoch_ns": "nanoseconds",
        "epoch_100ns": "tenths of microseconds",
        "serial_days": "spreadsheet days",
    }
)
_SERIAL_FIRST: Final = MappingProxyType({1900: date(1899, 12, 30), 1904: date(1904, 1, 1)})
_OTHER_EPOCHS: Final = (date(2000, 1, 1), date(1984, 1, 1), date(1980, 1, 1), date(1980, 1, 6), date(1904, 1, 1))
_OLD_US: Final = 8 * 365 * DAY_US
"""A log that ends so long before its file was written is asked about (common practice, no source)."""
_LATEST_S: Final = 3.6e9
"""2084 by seconds since 1970: later than any log; counted from 1904 it is 2018."""


@dataclass(frozen=True)
class _Window:
    """Numbers from `low` to below `high` are counts of `unit` since `first`."""

    unit: str
    low: float
    high: float
    first: date = UNIX


_WINDOWS: Final = (
    # 1973 to 2201 for counts from 1970, 1954 to 2173 for spreadsheet days
    _Window("serial_days", 2e4, 1e5),
    _Window("epoch_s", 1e8, 7.3e9),
    _Window("epoch_ms", 1e11, 7.3e12),
    _Window("epoch_us", 1e14, 7.3e15),
    _Window("epoch_100ns", 1.19e17, 1.6e17, date(1601, 1, 1)),  # 1978 to 2108; as nanoseconds since 1970: 1973 to 1975
    _Window("epoch_100ns", 6.2e17, 6.7e17, date(1, 1, 1)),  # 1965 to 2124; as nanoseconds since 1970: 1989 to 1991
    _Window("epoch_ns", 1e17, 7.3e18),
)


def read_counts(
    value: pl.Series, raw: pl.Series, origin: Origin, unit: str | None = None, *, days: bool = True
) -> Stamps | None:
    """The instants of a column of numbers (value: Float64), or None where no number can be a count.

    unit: as the profile states it; days: whether numbers may be spreadsheet days where it does not.
    """
    whole = raw.cast(pl.Int64, strict=False)
    if whole.null_count() > value.null_count():
        whole = pl.Series([None] * len(raw), dtype=pl.Int64)
    frame = pl.DataFrame({"v": value, "i": whole})
    fractions = whole.null_count() == len(whole)
    if unit is None and not fractions and not raw.dtype.is_float() and value.drop_nulls().is_between(2e4, 1e5).all():
        return None  # whole numbers only: a counter, no spreadsheet days
    time: pl.Expr = pl.lit(None, pl.Int64)
    used: dict[str, int] = {}
    units: list[str] = []
    for window in _windows(origin.epoch, unit):
        if unit is None and not days and window.unit == "serial_days":
            continue
        inside = (pl.col("v") >= window.low) & (pl.col("v") < window.high) if unit is None else pl.lit(True)
        inside = inside & time.is_null() if used else inside
        count = int(frame.select((inside & pl.col("v").is_not_null()).sum()).item())
        if not count:
            continue
        used[f"{_WORDS[window.unit]} since {_first_name(window)}"] = count
        units.append(window.unit)
        time = pl.when(inside).then(_instant(window)).otherwise(time)
    if not used:
        return None
    out = frame.select(time=time)["time"]
    epoch_of_serial = set(units) == {"serial_days"}
    notes = () if len(used) == 1 else (f"Time stamps mix units: {joined(list(used))}, told by size.",)
    out, more, renamed = _doubts(out, value, units, origin)
    names = [renamed or name for name in used]
    undated = out.is_null() & value.is_not_null()
    return Stamps(
        out,
        None if epoch_of_serial else pl.repeat(True, len(out), eager=True),
        joined(list(dict.fromkeys(names))),
        _resolution_us(units, fractions),
        (*notes, *more),
        undated=undated if undated.any() and 2 * int(undated.sum()) < len(out) else None,
        readings=tuple(sorted(zip(names, used.values(), strict=True), key=lambda pair: -pair[1])),
        by_size=True,
    )


def _windows(epoch: date | None, unit: str | None) -> tuple[_Window, ...]:
    """The windows that come into question for a stated epoch and unit."""
    serial = _Window("serial_days", 1e3, 1e5, _SERIAL_FIRST[1904 if epoch == date(1904, 1, 1) else 1900])
    if unit is not None:
        first = epoch or (date(1601, 1, 1) if unit == "epoch_100ns" else UNIX)
        return (serial if unit == "serial_days" else _Window(unit, 0, 0, first),)
    if epoch is None:
        return (_Window("serial_days", 2e4, 1e5, serial.first), *_WINDOWS[1:])
    last = "epoch_100ns" if epoch.year <= 1601 else "epoch_ns"
    high = {"epoch_s": 1e10, "epoch_ms": 1e13, "epoch_us": 1e16, last: 1e19}
    lows = [0.0 if epoch.year != 1904 else 1e5, *list(high.values())[:-1]]
    found = tuple(_Window(name, low, top, epoch) for low, (name, top) in zip(lows, high.items(), strict=True))
    return (serial, *found) if epoch.year in _SERIAL_FIRST else found


def _instant(window: _Window) -> pl.Expr:
    """Microseconds since 1970; spreadsheet days to the millisecond: with ten decimals they are good for 10 us."""
    first_us = days_since_1970(window.first) * DAY_US
    if window.unit == "serial_days":
        return (pl.col("v") * (DAY_US / 1000)).round(0).cast(pl.Int64, strict=False) * 1000 + first_us
    above, below = UNITS[window.unit]
    exact = pl.col("i") * above if below == 1 else pl.col("i") // below
    rounded = (pl.col("v") * (above / below)).round(0).cast(pl.Int64, strict=False)
    return pl.coalesce(exact, rounded) + first_us


def _first_name(window: _Window) -> str:
    if window.unit == "serial_days":
        return "1904" if window.first.year == 1904 else "1900"
    first = window.first
    return str(first.year) if (first.month, first.day) == (1, 1) else first.isoformat()


def _resolution_us(units: list[str], fractions: bool) -> int:
    if "serial_days" in units:
        return 1_000
    return 1 if fractions else min(max(UNITS[unit][0] // UNITS[unit][1], 1) for unit in units)


def _doubts(
    time: pl.Series, value: pl.Series, units: list[str], origin: Origin
) -> tuple[pl.Series, tuple[str, ...], str | None]:
    """Moves counts that 1970 leads out of any log's life, and says where another epoch would do as well."""
    if origin.epoch is not None or not time.len() or time.null_count() == len(time):
        return time, (), None
    first, last = int(time.min()), int(time.max())  # type: ignore[arg-type]
    written = origin.written
    now = _micros(written) if written else None
    sample = f"{value.drop_nulls()[0]:.20g}"
    if units == ["serial_days"]:
        later = last + 1462 * DAY_US
        if now is not None and last <= now < later:
            return time, (), None
        note = "Spreadsheet days are counted from 1900; from 1904 they would be 1462 days later: [log] epoch."
        return time, (note,), None
    if "epoch_100ns" in units:
        note = f"Counts like {sample} are read as is usual for their size; [log] epoch states another first day."
        return time, (note,), None
    word = _WORDS[units[0]]
    if first > _LATEST_S * SECOND_US and len(set(units)) == 1:
        shift = days_since_1970(date(1904, 1, 1)) * DAY_US
        since_1900 = _day(first + days_since_1970(date(1900, 1, 1)) * DAY_US)
        note = (
            f"Counts like {sample} are read as {word} since 1904 ({_day(first + shift)}); since 1970 they would be "
            f"{_day(first)}, since 1900 {since_1900}: [log] epoch states it."
        )
        return time + shift, (note,), f"{word} since 1904"
    if now is None or last > now - _OLD_US:
        return time, (), None
    near = [
        (epoch, day)
        for epoch in _OTHER_EPOCHS
        if now - _OLD_US < last + (shift := days_since_1970(epoch) * DAY_US) <= now + DAY_US
        for day in [_day(first + shift)]
    ]
    if not near:
        return time, (), None
    others = joined([f"{epoch.isoformat()} ({day})" for epoch, day in near])
    note = (
        f"Counts like {sample} are read as {word} since 1970 ({_day(first)}); counted from {others} they would be "
        "nearer to the date of the file: state [log] epoch in the profile."
    )
    return time, (note,), None


def _micros(instant: datetime) -> int:
    return round(instant.timestamp()) * SECOND_US


def _day(us: int) -> str:
    return str((datetime(1970, 1, 1) + timedelta(microseconds=us)).date())
