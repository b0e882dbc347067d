"""Stamps -> UTC microseconds: finds the kind of stamp of a whole column, then the zone.

Kinds: text (see stamps.py), counts of seconds, milli-, micro- or nanoseconds since 1970, spreadsheet days since 1900,
and columns that already hold instants. Rows whose stamp is not understood stay null; the caller sets them aside.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Final

import numpy as np
import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.stamps import Stamps, read_stamps

_DAY_US: Final = 86_400_000_000
_SERIAL_EPOCH_DAYS: Final = 25_569
"""1970-01-01 as a spreadsheet day (days since 1899-12-30)."""

_MAGNITUDES: Final = (
    # unit, from, below, microseconds in one, first day as an offset in units: 1973 to 2200 for the counts
    ("serial_days", 2e4, 1e5, _DAY_US, _SERIAL_EPOCH_DAYS),
    ("epoch_s", 1e8, 7.3e9, 1_000_000, 0),
    ("epoch_ms", 1e11, 7.3e12, 1_000, 0),
    ("epoch_us", 1e14, 7.3e15, 1, 0),
    ("epoch_ns", 1e17, 7.3e18, 1e-3, 0),
)
_UNIT_NAMES: Final = MappingProxyType(
    {
        "serial_days": "spreadsheet days",
        "epoch_s": "seconds since 1970",
        "epoch_ms": "milliseconds since 1970",
        "epoch_us": "microseconds since 1970",
        "epoch_ns": "nanoseconds since 1970",
    }
)
_RESOLUTION_US: Final = MappingProxyType({"epoch_s": 1_000_000, "epoch_ms": 1_000, "serial_days": 1_000})


def read_clock(columns: Sequence[pl.Series], time_format: str | None = None) -> Stamps | None:
    """The stamps in one or several columns; None where they are no stamps. `time_format`: see the profile."""
    if len(columns) == 1:
        column = columns[0]
        if column.dtype.is_temporal():
            return _from_instants(column)
        if column.dtype.is_numeric():
            return _from_numbers(column.cast(pl.Float64, strict=False), column, time_format)
        text = column.cast(pl.String)
    else:
        text = _joined(columns)
    if time_format in _UNIT_NAMES:
        return _from_numbers(_number(text), text, time_format)
    if time_format is not None:
        return _by_format(text, time_format)
    head = text.drop_nulls().head(200)
    if len(head) and _number(head).null_count() <= 0.5 * len(head):
        numbers = _from_numbers(_number(text), text, None)
        if numbers is not None:
            return numbers
    return read_stamps(text)


def require_clock(columns: Sequence[pl.Series], time_format: str | None, file: Path, lines: pl.Series) -> Stamps:
    """As read_clock, but a column in which nothing is a stamp is a ReadingError with a sample value."""
    found = read_clock(columns, time_format)
    if found is None or found.time.null_count() == len(found.time):
        name = " and ".join(f"'{column.name}'" for column in columns)
        at = next((i for i in range(min(len(columns[0]), 1000)) if columns[0][i] is not None), None)
        got = "nothing" if at is None else "'" + " ".join(str(c[at]) for c in columns)[:60] + "'"
        as_what = f" as {time_format}" if time_format else ""
        raise ReadingError(
            f"time stamps{as_what} in column {name}",
            got,
            "name the right column in [log] time of the profile, or write its notation in [log] time_format",
            file=file,
            line=None if at is None else int(lines[at]),
        )
    return found


def to_utc(stamps: Stamps, zone: str, late_us: int) -> tuple[pl.Series, pl.Series, tuple[str, ...]]:
    """Int64 microseconds in UTC, a mask of hours that the zone leaves out, and notes. Rows in the order of the record.

    The hour that is repeated in autumn is told apart by that order: up to the step back it is the first pass
    (summer time), after it the second. Steps back of at most `late_us` are late arrivals, no step.
    """
    nothing = pl.repeat(False, len(stamps.time), eager=True)
    if zone == "UTC" or (stamps.absolute is not None and stamps.absolute.all()):
        return stamps.time, nothing, ()
    # the offset is the same within one minute, so each stretch of equal minutes is looked up once
    minutes = (stamps.time // 60_000_000).rle().struct.unnest()
    local = (minutes["value"] * 60_000_000).cast(pl.Datetime("us"))
    first = local.dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    last = local.dt.replace_time_zone(zone, ambiguous="latest", non_existent="null")

    def spread(column: pl.Series) -> pl.Series:
        return pl.Series(np.repeat(column.to_numpy(), minutes["len"].to_numpy()))

    offset = spread((local.cast(pl.Int64) - first.cast(pl.Int64)).fill_null(0))
    missing = spread(first.is_null()) if first.null_count() else nothing
    twice = (first != last).fill_null(False)
    notes: tuple[str, ...] = ()
    if twice.any():
        second, notes = _second_pass(stamps.time, spread(twice), late_us)
        later = spread((local.cast(pl.Int64) - last.cast(pl.Int64)).fill_null(0))
        offset = pl.select(pl.when(second).then(later).otherwise(offset))[:, 0]
    if stamps.absolute is not None:
        offset = pl.select(pl.when(stamps.absolute).then(0).otherwise(offset))[:, 0]
        missing = missing & ~stamps.absolute
    return stamps.time - offset, missing, notes


def _second_pass(time: pl.Series, both: pl.Series, late_us: int) -> tuple[pl.Series, tuple[str, ...]]:
    """Which rows of a repeated hour belong to its second pass."""
    frame = pl.DataFrame({"t": time, "both": both}).with_columns(day=pl.col("t") // _DAY_US)
    back = pl.col("both") & (pl.col("t").diff() < -late_us) & pl.col("both").shift()
    frame = frame.with_columns(passed=back.fill_null(False).cast(pl.Int32).cum_sum().over("day"))
    second = frame["both"] & (frame["passed"] > 0)
    unclear = frame.filter(pl.col("both")).group_by("day").agg(pl.col("passed").max()).filter(pl.col("passed") == 0)
    if unclear.is_empty():
        return second, ()
    return second, ("Stamps in the hour that is repeated in autumn show no step back: read as summer time.",)


def _joined(columns: Sequence[pl.Series]) -> pl.Series:
    """Several columns as one text; a last column of whole numbers up to 999 after the time are milliseconds."""
    texts = [column.cast(pl.String).str.strip_chars() for column in columns]
    last = texts[-1].cast(pl.UInt32, strict=False)
    sample = texts[-2].drop_nulls().head(50)
    has_time = len(sample) and bool(sample.str.contains(r"\d:\d{1,2}:\d{1,2}$").all())
    if has_time and last.null_count() <= texts[-1].null_count() and (last.max() or 0) <= 999:  # type: ignore[operator]
        head = pl.concat_str(texts[:-1], separator=" ")
        return pl.select(time=pl.concat_str([head, last.cast(pl.String).str.zfill(3)], separator="."))["time"]
    return pl.select(time=pl.concat_str(texts, separator=" "))["time"]


def _number(text: pl.Series) -> pl.Series:
    return text.str.strip_chars().str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)


def _from_instants(column: pl.Series) -> Stamps | None:
    if column.dtype == pl.Date:
        column = column.cast(pl.Datetime("us"))
    if not isinstance(column.dtype, pl.Datetime):
        return None
    zone = column.dtype.time_zone
    absolute = pl.repeat(True, len(column), eager=True) if zone else None
    time = column.dt.cast_time_unit("us").cast(pl.Int64)
    return Stamps(time, absolute, "instants" + (" with zone" if zone else ""), 1)


def _from_numbers(value: pl.Series, raw: pl.Series, unit: str | None) -> Stamps | None:
    """Counts since an epoch; each one's unit by its magnitude unless it is stated."""
    whole = raw.cast(pl.Int64, strict=False)
    if whole.null_count() > value.null_count():
        whole = pl.Series([None] * len(raw), dtype=pl.Int64)
    frame = pl.DataFrame({"v": value, "i": whole})
    time: pl.Expr = pl.lit(None, pl.Int64)
    used: list[str] = []
    for name, low, high, scale, first in _MAGNITUDES:
        inside = pl.lit(unit == name) if unit else (pl.col("v") >= low) & (pl.col("v") < high)
        if not frame.select(inside.any()).item():
            continue
        used.append(name)
        if name == "serial_days":  # to the millisecond: a day written with ten decimals is good for 10 microseconds
            instant = ((pl.col("v") - first) * (scale / 1000)).round(0).cast(pl.Int64, strict=False) * 1000
        else:
            rounded = (pl.col("v") * scale).round(0).cast(pl.Int64, strict=False)
            exact = pl.col("i") * int(scale) if scale >= 1 else pl.col("i") // 1000
            instant = pl.coalesce(exact, rounded)
        time = pl.when(inside).then(instant).otherwise(time)
    if not used:
        return None
    out = frame.select(time=time)["time"]
    notes: tuple[str, ...] = ()
    if len(used) > 1:
        notes = ("Time stamps mix units: " + " and ".join(_UNIT_NAMES[name] for name in used) + ", told by size.",)
    resolution = min(_RESOLUTION_US.get(name, 1) for name in used)
    if whole.null_count() == len(whole) and "serial_days" not in used:
        resolution = 1
    absolute = None if used == ["serial_days"] else pl.repeat(True, len(out), eager=True)
    return Stamps(out, absolute, " and ".join(_UNIT_NAMES[name] for name in used), resolution, notes)


def _by_format(text: pl.Series, time_format: str) -> Stamps:
    try:
        parsed = text.str.strip_chars().str.to_datetime(time_format, time_unit="us", strict=False)
    except pl.exceptions.PolarsError as fault:
        got = f"'{time_format}' ({str(fault).splitlines()[0][:80]})"
        raise ReadingError("a time format like '%d.%m.%Y %H:%M:%S'", got, "correct [log] time_format") from None
    zone = isinstance(parsed.dtype, pl.Datetime) and parsed.dtype.time_zone
    absolute = pl.repeat(True, len(parsed), eager=True) if zone else None
    time = parsed.cast(pl.Int64)
    known = time.drop_nulls()
    digits = next((d for d in (0, 1, 2, 3, 4, 5) if not (known % 10 ** (6 - d) != 0).any()), 6)
    return Stamps(time, absolute, time_format, 10 ** (6 - digits))
