"""Texts of time stamps -> local or absolute microseconds. The notation is decided once for a whole column.

A stamp is cut into its date text and its time parts: at fixed positions where all stamps are written alike, else with
a pattern. Dates are read by distinct text, so that their order (day, month, year) is decided from all of them.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import polars as pl

from eventlens.reading.clocks import halves, offsets, rolling
from eventlens.reading.clocks.cut import Parts, cut, merge
from eventlens.reading.clocks.dates import read_dates
from eventlens.reading.clocks.doubts import impossible
from eventlens.reading.clocks.fixed import BLOCK, Longs, Notation
from eventlens.reading.clocks.origin import Origin
from eventlens.reading.clocks.rewrite import rewritten
from eventlens.reading.clocks.stamps import DAY_US, Holds, Stamps, joined, spread
from eventlens.threads import in_threads

_TIME: Final = r"(?P<h>\d{1,2}):(?P<m>\d{1,2})(?::(?P<s>\d{1,2})(?:(?P<sep>[.,:\s])(?P<f>\d{0,9}))?)?"
_MARK: Final = r"\s*(?P<mark>[*?!#~]+|\([^\W\d]{1,12}\)|\([*?!]\)|\b(?i:IV|NT|SU|NS|ok|good|bad|invalid|uncertain)\b)?"
_PLAIN_ZONE: Final = r"\s*(?P<zone>Z|z|UTC|GMT|[+-]\d{2}(?::?\d{2})?)?"
_ZONE: Final = rf"\s*\(?(?P<zone>{offsets.PATTERN})?\)?(?:{offsets.REGION})?"
_HALF: Final = rf"\s*(?P<half>{halves.ANY})?"
_BEFORE: Final = rf"(?:(?P<before>{halves.BEFORE})\s*)?"
_MARKED_BEFORE: Final = rf"\s{halves.BEFORE}\s*\d{{1,2}}:\d{{2}}"
_END: Final = r"\s*$"

_PLAIN: Final = r"^\s*(?P<date>\S.*?)[T\s,;_]\s*" + _TIME + _PLAIN_ZONE + _END
"""2024-05-01 06:00:00.250, 01.05.2024  6:00, 2024-05-01T06:00:00,250+02:00"""
_FULL: Final = r"^\s*(?P<date>\S.*?)[T\s,;_]\s*" + _BEFORE + _TIME + _HALF + _ZONE + _MARK + _END
"""05/13/2024 12:05:00 AM, 2024-05-01 06:00:00 CEST, 2024-05-01 06:00:00.250 *"""
_COMPACT: Final = (
    r"^\s*(?P<date>\d{8}|\d{7}|\d{6}|\d{4}W\d{3})[T\s_-]?(?P<h>\d{2})(?P<m>\d{2})(?P<s>\d{2})?"
    r"(?:[.,]?(?P<f>\d{1,9}))?" + _ZONE + _END
)
"""20240501T060000.250, 20240501060000, 240501 060000, 2024122T0600, 2024W183T060000"""
_ONLY_DATE: Final = r"^\s*(?P<date>\S*\d\S*(?:\s+\S+){0,4}?|[^\W\d_]{3,}\.?\s+\d{1,2},?\s+\d{4})\s*$"
_ONLY_TIME: Final = r"^\s*" + _BEFORE + _TIME + _HALF + _ZONE + _MARK + _END

_FULL_FORMS: Final = (_PLAIN, _FULL, _COMPACT, _ONLY_DATE)
_SAMPLE: Final = 200
_LEAST: Final = 0.1
"""Share of a sample that must look like stamps at all (common practice, no source)."""
_INVALID: Final = r"(?i)^\(?(?:IV|bad|invalid)\)?$"


def read_text_stamps(text: pl.Series, origin: Origin | None = None) -> Stamps | None:
    """The stamps of a text column, or None where hardly any of a sample looks like a stamp.

    Times of day without a date are stamps only where an origin is given: it says which day the record begins on.
    """
    text = text.alias("text")
    sample = spread(text.drop_nulls(), _SAMPLE)
    if sample.is_empty():
        return None
    notation = Notation.of(sample[0])
    if notation is None:
        text = rewritten(text, sample)
        sample = spread(text.drop_nulls(), _SAMPLE)
    pattern = _form_of(sample, _FULL_FORMS)
    parts = None if pattern is None else _cut_all(text, notation, pattern)
    stamps = None if parts is None else _with_dates(parts, text, origin)
    if stamps is None and origin is not None and _form_of(sample, (_ONLY_TIME,)):
        stamps = _times_of_day(cut(text, _ONLY_TIME), text, origin)
    return stamps


def _form_of(sample: pl.Series, forms: tuple[str, ...]) -> str | None:
    """The pattern that fits most of a sample, the first one among equals; None where none fits a tenth of it."""
    if forms[0] == _PLAIN and sample.str.contains(_MARKED_BEFORE).any():
        forms = forms[1:]  # the plain form would take the marker for a part of the date
    shares = [(int(sample.str.contains(form).sum()), -at) for at, form in enumerate(forms)]
    best, at = max(shares)
    return forms[-at] if best >= _LEAST * len(sample) and best else None


def _cut_all(text: pl.Series, notation: Notation | None, pattern: str) -> Parts:
    """Parts of all stamps; what the pattern leaves is tried with the fullest one, for marks and zones on few rows."""
    parts = cut(text, pattern) if notation is None else _cut_alike(text, notation, pattern)
    if pattern != _PLAIN or not parts.clock.null_count():
        return parts
    left = (parts.clock.is_null() & text.is_not_null()).arg_true()
    if not len(left) or not text.gather(left.head(10_000)).str.contains(_FULL).any():
        return parts
    return merge(len(text), None, parts, left, cut(text.gather(left), _FULL))


def _cut_alike(text: pl.Series, notation: Notation, pattern: str) -> Parts:
    """Parts of stamps that are mostly written in one notation; the others are cut by the pattern."""
    fits = (text.str.len_bytes() == len(notation.pattern)).fill_null(False)
    at = None if fits.all() else fits.arg_true()
    alike = text if at is None else text.gather(at)
    clock = np.empty(len(alike), np.int64)

    def cut_block(start: int) -> Longs:
        block = alike.slice(start, BLOCK)
        clock[start : start + len(block)], begin = notation.cut(block)
        return begin + start

    begins = in_threads(cut_block, range(0, len(alike), BLOCK), len(alike))
    begin = np.concatenate([np.empty(0, np.int64), *begins])
    repeats = np.diff(np.append(begin, len(alike)))
    parts = Parts(
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
    return merge(len(text), at, parts, rest, cut(text.gather(rest), pattern))


def _with_dates(parts: Parts, text: pl.Series, origin: Origin | None) -> Stamps | None:
    dates = read_dates(parts.dates, _rows_of_dates(parts) if len(parts.dates) > 1 else None, origin)
    if dates is None or ((dates.yearless or dates.digits_only) and not parts.has_time):
        return None
    notes = dates.notes
    if dates.yearless:
        days, more = rolling.with_years(dates.days.gather(parts.date_at), origin or Origin())
        notes = (*notes, *more)
        time = days.cast(pl.Int64) * DAY_US + parts.clock
    else:
        time = _together(dates.days.cast(pl.Int64) * DAY_US, parts)
    return _finish(parts, time.alias("time"), text, dates.notation, notes, dates.readings)


def _together(midnight: pl.Series, parts: Parts) -> pl.Series:
    """Each row's midnight, of its date among the dates, and time of day."""
    if midnight.null_count() or parts.clock.null_count():
        return midnight.gather(parts.date_at) + parts.clock
    days, at, clock = midnight.to_numpy(), parts.date_at.to_numpy(), parts.clock.to_numpy()
    time = np.empty(len(clock), np.int64)

    def add_block(start: int) -> None:
        block = slice(start, start + BLOCK)
        np.add(days[at[block]], clock[block], out=time[block])

    in_threads(add_block, range(0, len(clock), BLOCK), len(clock))
    return pl.Series(time)


def _rows_of_dates(parts: Parts) -> pl.Series:
    """Int64: how many rows each of the dates stands for."""
    runs = parts.date_at.rle().struct.unnest()  # rows of one date mostly stand together
    counted = np.bincount(runs["value"].to_numpy(), runs["len"].to_numpy(), len(parts.dates))
    return pl.Series(counted.astype(np.int64))


def _times_of_day(parts: Parts, text: pl.Series, origin: Origin) -> Stamps | None:
    if parts.clock.null_count() == len(parts.clock):
        return None
    days, notes = rolling.with_days(parts.clock, origin)
    return _finish(parts, (days * DAY_US + parts.clock).alias("time"), text, "", notes, ())


def _finish(
    parts: Parts,
    time: pl.Series,
    text: pl.Series,
    date_notation: str,
    notes: tuple[str, ...],
    readings: tuple[tuple[str, int], ...],
) -> Stamps:
    absolute = None
    if parts.offset is not None:
        absolute = parts.offset.is_not_null()
        time = time - parts.offset.fill_null(0)
    digits = min(parts.digits, 6)
    notation = f"{date_notation} time".strip() if parts.has_time else date_notation
    notation += f" with {digits} decimals" if digits else ""
    undated = None
    if parts.marks is not None:
        undated, more = _read_marks(parts.marks)
        notes = (*notes, *more)
        time = pl.select(pl.when(~undated).then(time))[:, 0]
    undated = impossible(text, time, undated)
    if parts.zones is not None:
        notes = (*notes, *offsets.notes_on(parts.zones))
    if not readings:
        readings = ((notation, len(time) - time.null_count()),)
    holds: Holds = "both" if date_notation and parts.has_time else "date" if date_notation else "time"
    return Stamps(time, absolute, notation, 10 ** (6 - digits), notes, undated=undated, readings=readings, holds=holds)


def _read_marks(marks: pl.Series) -> tuple[pl.Series, tuple[str, ...]]:
    """Which stamps are marked as invalid, and what the marks are."""
    invalid = marks.str.contains(_INVALID).fill_null(False)
    counted = marks.drop_nulls().value_counts(sort=True)
    said = [f"'{mark}' on {count}" for mark, count in counted.head(5).iter_rows()]
    notes = (f"Stamps carry marks ({joined(said)} rows): those marked invalid have no known time, others are read.",)
    return invalid, notes if said else ()
