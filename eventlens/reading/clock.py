"""Stamps -> UTC microseconds: finds the kind of stamp of a whole column, then the zone (clocks/).

Kinds: text (clocks/text.py), counts since an epoch and spreadsheet days (counts), ticks that wrap (ticks), clock bytes
(octets), and columns that already hold instants. The profile may name one in [log] time_format: a format like
"%d.%m.%Y %H:%M:%S", or epoch_s, epoch_ms, epoch_us, epoch_ns, epoch_100ns, serial_days, ticks_us, ticks_100us,
ticks_ms, ticks_10ms, ticks_100ms, ticks_s, bcd, cp56. Rows whose stamp is not understood stay null; the caller sets
them aside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.clocks import counts, octets, ticks
from eventlens.reading.clocks.doubts import with_doubts
from eventlens.reading.clocks.origin import Origin
from eventlens.reading.clocks.stamps import Stamps, spread
from eventlens.reading.clocks.text import read_text_stamps
from eventlens.reading.clocks.together import joined_columns
from eventlens.reading.clocks.zones import to_utc, without_zone

__all__ = ["Origin", "Stamps", "read_clock", "require_clock", "to_utc", "without_zone"]

_SAMPLE: Final = 200
_DIGITS_OF_DATES: Final = (
    r"^\s*(?:19|20)\d{2}(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])(?:(?:[01]\d|2[0-3])[0-5]\d(?:[0-5]\d\d{0,6})?)?\s*$"
)


def read_clock(
    columns: Sequence[pl.Series], time_format: str | None = None, origin: Origin | None = None
) -> Stamps | None:
    """The stamps in one or several columns; None where they are no stamps. `time_format`: see the profile.

    Ticks and times of day without a date are stamps only with an `origin`: any rising column could be the one, and the
    other needs the day on which the record begins.
    """
    if len(columns) == 1:
        column = columns[0]
        if column.dtype.is_temporal():
            return _from_instants(column, origin)
        text = column if column.dtype.is_numeric() else column.cast(pl.String)
    else:
        text = joined_columns(columns)
    if time_format is not None:
        return _as_stated(text, time_format, columns[0].name, origin)
    if text.dtype.is_numeric():
        return _from_numbers(text.cast(pl.Float64), text, columns[0].name, origin)
    sample = spread(text.drop_nulls(), _SAMPLE)
    if octets.looks_like_octets(sample):
        found = octets.read_octets(text, sample)
        if found is not None:
            return found
    if ticks.is_literal(sample):
        return _from_literals(text, origin) if origin is not None else None
    head = text.drop_nulls().head(_SAMPLE)
    if len(head) and _number(head).null_count() <= 0.5 * len(head):
        numbers = _from_numbers(_number(text), text, columns[0].name, origin)
        if numbers is not None:
            return numbers
    return read_text_stamps(text, origin)


def require_clock(
    columns: Sequence[pl.Series],
    time_format: str | None,
    file: Path,
    lines: pl.Series,
    origin: Origin | None = None,
) -> Stamps:
    """As read_clock, but a column in which nothing is a stamp is a ReadingError with a sample value."""
    known = replace(origin or Origin(), lines=lines)
    found = read_clock(columns, time_format, known)
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
    return with_doubts(found, lines)


def _as_stated(text: pl.Series, time_format: str, name: str, origin: Origin | None) -> Stamps | None:
    """The stamps in the form that the profile names."""
    known = origin or Origin()
    if time_format in counts.UNITS:
        return counts.read_counts(_number(text), text, known, time_format)
    if time_format in ticks.UNITS:
        return ticks.read_ticks(_ticks_in(_number(text), text), *ticks.unit_of(name, time_format), known)
    text = text.cast(pl.String)
    if time_format in ("bcd", "cp56"):
        return octets.read_octets(text, spread(text.drop_nulls(), _SAMPLE), time_format)
    return _by_format(text, time_format)


def _from_numbers(value: pl.Series, raw: pl.Series, name: str, origin: Origin | None) -> Stamps | None:
    """Numbers: run-together dates, counts since an epoch, or (with an origin) ticks."""
    text = raw.cast(pl.String) if not raw.dtype.is_float() else None
    if text is not None and _all_like(spread(text.drop_nulls(), _SAMPLE), _DIGITS_OF_DATES):
        found = read_text_stamps(text, origin)
        if found is not None:
            return found
    known = origin or Origin()
    # ticks begin at a stated instant and have a unit, days have neither
    days = known.start is None and not ticks.names_unit(name)
    found = counts.read_counts(value, raw, known, days=days)
    if found is None or (origin is not None and found.time.null_count() - value.null_count() > 0.02 * len(value)):
        if origin is None:
            return found
        rising = ticks.read_ticks(_ticks_in(value, raw), *ticks.unit_of(name, None), known)
        if rising is not None and (found is None or ticks.named_like_ticks(name)):
            return rising
    if origin is not None and found is not None and ticks.named_like_ticks(name) and found.time.null_count():
        return ticks.read_ticks(_ticks_in(value, raw), *ticks.unit_of(name, None), known) or found
    return found


def _ticks_in(value: pl.Series, raw: pl.Series) -> pl.Series:
    """Whole numbers as Int64, others as Float64."""
    whole = raw.cast(pl.Int64, strict=False)
    return whole if whole.null_count() <= value.null_count() else value


def _from_literals(text: pl.Series, origin: Origin) -> Stamps | None:
    """IEC 61131-3 durations: ticks of a millisecond (they wrap with 32 bits), or finer ones (64 bits)."""
    us = ticks.literal_us(text)
    name = "IEC 61131-3 durations"
    if (us.drop_nulls() % 1000 == 0).all():
        return ticks.read_ticks(us // 1000, 1000, "IEC 61131-3 literals", origin, name)
    return ticks.read_ticks(us, 1, "IEC 61131-3 literals", origin, name)


def _all_like(sample: pl.Series, pattern: str) -> bool:
    return len(sample) > 0 and float(sample.str.contains(pattern).mean() or 0) > 0.95  # type: ignore[arg-type]


def _number(text: pl.Series) -> pl.Series:
    if text.dtype.is_numeric():
        return text.cast(pl.Float64)
    return text.str.strip_chars().str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)


def _from_instants(column: pl.Series, origin: Origin | None) -> Stamps | None:
    if column.dtype == pl.Date:
        column = column.cast(pl.Datetime("us"))
    if column.dtype == pl.Duration:
        us = column.dt.total_microseconds()
        return ticks.read_ticks(us, 1, "durations", origin) if origin is not None else None
    if column.dtype == pl.Time:
        return read_text_stamps(column.cast(pl.String), origin)
    zone = column.dtype.time_zone  # type: ignore[attr-defined]
    absolute = pl.repeat(True, len(column), eager=True) if zone else None
    time = column.dt.cast_time_unit("us").cast(pl.Int64)
    notation = "instants" + (" with zone" if zone else "")
    return Stamps(time, absolute, notation, 1, readings=((notation, len(time) - time.null_count()),))


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
    return Stamps(time, absolute, time_format, 10 ** (6 - digits), readings=((time_format, len(known)),))
