"""Counts of ticks since power-up -> time: they wrap at 2^16, 2^31 or 2^32, or start anew with the controller.

A step back is a wrap only where the count was near its end; else the controller restarted and the clock has a break.
Without a start from the profile the time is relative: tick 0 is shown as 2000-01-01 00:00.
"""

from __future__ import annotations

import re
from datetime import datetime
from types import MappingProxyType
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens.reading.clocks.origin import Origin, micros
from eventlens.reading.clocks.stamps import Stamps, lines_said

UNITS: Final = MappingProxyType(
    {  # name in the profile -> microseconds of a tick
        "ticks_us": 1,
        "ticks_10us": 10,
        "ticks_100us": 100,
        "ticks_ms": 1_000,
        "ticks_10ms": 10_000,
        "ticks_100ms": 100_000,
        "ticks_s": 1_000_000,
    }
)
_NAMED: Final = re.compile(
    r"(?i)tick|millis|micros|uptime|up_time|sys_?time|(?<![a-z])(?:\d*[mµu]s|[mµu]?sec|counter|elapsed)(?![a-z])"
)
_UNIT_IN_NAME: Final = re.compile(
    r"(?i)(?<![a-z\d])(10{0,2})?\s*(ms|us|µs|μs|s|msec|usec|sec|millis|micros|milliseconds|microseconds|seconds)(?![a-z])"
)
_LETTER: Final = MappingProxyType({"m": 1_000, "u": 1, "µ": 1, "μ": 1, "s": 1_000_000})
RELATIVE: Final = datetime(2000, 1, 1)
LATE_US: Final = 2_000_000
"""Smaller steps back are late arrivals (common practice)."""
_LONGEST_US: Final = 1e15
"""32 years: more is no count since power-up (and no more than its thousandfold fits into 64 bits)."""
_NEAR_END: Final = 0.1
"""A count that wraps comes within this share of its end somewhere."""
_LITERAL: Final = r"(?i)^\s*-?\s*(?:L?TIME|L?T)#\s*-?[\d._dhmsuµμn]+\s*$"

Ints = npt.NDArray[np.int64]


def named_like_ticks(name: str) -> bool:
    """Whether a column's name says that it counts ticks."""
    return bool(_NAMED.search(name))


def names_unit(name: str) -> bool:
    """Whether a column's name states a unit of seconds or finer, as 't [s]' does: then it holds no days."""
    return bool(_UNIT_IN_NAME.search(name))


def unit_of(name: str, unit: str | None) -> tuple[int, str]:
    """Microseconds of a tick, stated or by the column's name, and how it is known."""
    if unit is not None:
        return UNITS[unit], "as the profile states"
    found = _UNIT_IN_NAME.search(name)
    if not found:
        return 1_000, 'nothing states it: [log] time_format = "ticks_10ms" does'
    word = found[2].lower()
    size = _LETTER[word[0]]
    if word.startswith(("mic", "us", "µ", "μ")):
        size = 1
    return int(found[1] or 1) * size, f"by the name '{name}'"


def is_literal(sample: pl.Series) -> bool:
    """Whether most texts are IEC 61131-3 durations, T#5d14h12m18s3.5ms."""
    return len(sample) > 0 and float(sample.str.contains(_LITERAL).mean() or 0) > 0.5  # type: ignore[arg-type]


def literal_us(text: pl.Series) -> pl.Series:
    """IEC 61131-3 durations as Int64 microseconds, null where a text is none."""
    plain = pl.col("t").str.to_lowercase().str.replace_all(r"[_\s]", "").str.replace(r"l?t(?:ime)?#", "")

    def part(pattern: str, us: float) -> pl.Expr:
        return (plain.str.extract(pattern).cast(pl.Float64, strict=False) * us).fill_null(0.0)

    number = r"(\d+(?:\.\d+)?)"
    total = (
        part(number + "d", 86_400e6)
        + part(number + "h", 3_600e6)
        + part(number + r"m(?:[^s]|$)", 60e6)
        + part(number + "s", 1e6)
        + part(number + "ms", 1e3)
        + part(number + "[uµμ]s", 1)
        + part(number + "ns", 1e-3)
    )
    signed = pl.when(plain.str.starts_with("-")).then(-total).otherwise(total).round(0).cast(pl.Int64)
    return text.alias("t").to_frame().select(pl.when(pl.col("t").str.contains(_LITERAL)).then(signed).alias("t"))["t"]


def read_ticks(count: pl.Series, tick_us: int, why: str, origin: Origin, shown: str = "") -> Stamps | None:
    """Time of a column of ticks (Int64, or Float64 where ticks have fractions); None where it cannot be one."""
    known = count.is_not_null()
    values = count.drop_nulls().to_numpy()
    if (
        len(values) < 2
        or (values == values[0]).all()
        or not (np.abs(values.astype(float)) * tick_us < _LONGEST_US).all()
    ):
        return None
    whole = count.dtype.is_integer()
    scaled = np.round(values * 1_000).astype(np.int64) if not whole else values.astype(np.int64)
    scale_us = tick_us if whole else tick_us / 1_000
    backward = _newest_first(scaled)
    if backward:
        scaled = scaled[::-1]
    late = max(round(LATE_US / scale_us), 1)
    size, wraps, restarts = _turns(scaled, late)
    unrolled = _unroll(scaled, size, wraps, restarts)
    elapsed = np.round(unrolled * scale_us).astype(np.int64)
    breaks = restarts
    if backward:
        elapsed, breaks = elapsed[::-1], _turned(restarts)
    first_us, absolute, notes = _begin(elapsed, origin, len(count))
    at = known.arg_true()
    time = pl.repeat(None, len(count), dtype=pl.Int64, eager=True).scatter(at, pl.Series(elapsed + first_us))
    mask = pl.repeat(False, len(count), eager=True).scatter(at, pl.Series(breaks))
    said = [f"The stamps are ticks of {_tick_name(tick_us)} ({why}).", *notes]
    if wraps.any():
        said.append(_said_of_wraps(int(wraps.sum()), size, scale_us))
    if restarts.any():
        said.append(
            f"The count of ticks starts anew {_times(int(restarts.sum()))} ({lines_said(mask, origin.lines)}): the "
            "controller restarted, how long it was off is not known."
        )
    name = shown or f"ticks of {_tick_name(tick_us)}"
    return Stamps(
        time,
        absolute,
        name,
        max(round(scale_us), 1),
        tuple(said),
        breaks=mask if restarts.any() else None,
        readings=((name, len(values)),),
        by_size=True,
        floating=absolute is None,
    )


def _said_of_wraps(count: int, size: int, scale_us: float) -> str:
    period = f"{size * scale_us / 1e6:.7g} s"
    return (
        f"The count of ticks wraps at 2^{size.bit_length() - 1} {_times(count)}, every {period}: a longer pause cannot "
        "be seen."
    )


def _newest_first(values: Ints) -> bool:
    step = np.diff(values)
    return bool(np.count_nonzero(step < 0) > 9 * np.count_nonzero(step > 0)) and len(values) > 2


def _turned(restarts: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Marks of the later row of two, for rows in the other direction."""
    return np.append(restarts[1:], False)[::-1]


def _turns(values: Ints, late: int) -> tuple[int, npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Size of the counter, where it wraps and where it starts anew."""
    low, high = int(values.min()), int(values.max())
    bits = (16, 32, 64) if low < 0 else (16, 31, 32, 64)
    half = 1 if low < 0 else 0
    size = next(1 << b for b in bits if low >= -(1 << b) // 2 * half and high < (1 << b) >> half)
    top = size >> half
    back = np.diff(values, prepend=values[0]) < -late
    none = np.zeros(len(values), bool)
    if size > 1 << 32 or top - high > _NEAR_END * size:
        return size, none, back
    gap = np.diff(values, prepend=values[0]) % size
    # several times round a short counter: only wraps explain that it comes to its end each time
    longest = size // 2 if size == 1 << 16 and np.count_nonzero(back) > 1 else size // (8 if size == 1 << 16 else 16)
    wraps = back & (gap <= longest)
    return size, wraps, back & ~wraps


def _unroll(
    values: Ints, size: int, wraps: npt.NDArray[np.bool_], restarts: npt.NDArray[np.bool_]
) -> npt.NDArray[np.int64]:
    """Ticks since the last restart, over all wraps."""
    if not wraps.any():
        return values
    turns = np.cumsum(wraps, dtype=np.int64)
    return values + (turns - np.maximum.accumulate(np.where(restarts, turns, 0))) * size


def _begin(elapsed: Ints, origin: Origin, rows: int) -> tuple[int, pl.Series | None, list[str]]:
    """What to add to the elapsed time, whether that makes instants of it, and what was assumed."""
    if origin.start is None:
        note = (
            f"The instants are not known, only the time between them: tick 0 is shown as {RELATIVE.isoformat(' ')}; "
            "state [log] start, the instant of the first row, in the profile."
        )
        return micros(RELATIVE), None, [note]
    start = origin.start
    if start.tzinfo is None:
        start = start.replace(tzinfo=ZoneInfo(origin.zone or "UTC"))
    return micros(start) - int(elapsed[0]), pl.repeat(True, rows, eager=True), []


def _tick_name(tick_us: int) -> str:
    if tick_us >= 1_000_000:
        return f"{tick_us // 1_000_000} s"
    return f"{tick_us // 1000} ms" if tick_us >= 1_000 else f"{tick_us} us"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
