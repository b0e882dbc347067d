"""Stamps that lack their year or their date: completed in file order, from what is known of the record's beginning.

New Year and midnight are taken to have passed where the stamps go back by more than half a year, or by more than two
hours. Smaller steps back are left as they are: late arrivals, a ring buffer, or a clock that was set back.
"""

from __future__ import annotations

from datetime import date
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens.reading.clocks.dates import LEAP_YEAR
from eventlens.reading.clocks.origin import Origin, days_since_1970
from eventlens.reading.clocks.stamps import DAY_US, HOUR_US, lines_said

_LEAP_FIRST: Final = days_since_1970(date(LEAP_YEAR, 1, 1))
_HALF_YEAR: Final = 183
_NIGHT_US: Final = 2 * HOUR_US
"""A step back by more than this is a midnight that passed; by less, a clock that was set (common practice)."""
_ASSUMED: Final = date(2000, 1, 1)

Ints = npt.NDArray[np.int64]


def with_years(days: pl.Series, origin: Origin) -> tuple[pl.Series, tuple[str, ...]]:
    """Days since 1970 of dates whose year is LEAP_YEAR's place-holder, and what was assumed."""
    known = days.is_not_null()
    in_year = (days.drop_nulls().cast(pl.Int64) - _LEAP_FIRST).to_numpy()
    if not len(in_year):
        return days, ()
    passed = _passed(in_year, _HALF_YEAR, 366)
    year, why = _first_year(in_year, passed, origin)
    leap_day = _day_number(2, 29)
    turns = {int(turn) for turn in np.unique(passed[in_year == leap_day])}
    if origin.year is None and turns:
        fits = [year - at for at in range(8) if all(_leap(year - at + turn) for turn in turns)]
        year = fits[0] if fits else year
    first = np.array([days_since_1970(date(year + at, 1, 1)) for at in range(int(passed.min()), int(passed.max()) + 1)])
    leap = np.array([_leap(year + at) for at in range(int(passed.min()), int(passed.max()) + 1)])
    which = passed - passed.min()
    full = first[which] + in_year - ((in_year > leap_day) & ~leap[which])
    exists = (in_year != leap_day) | leap[which]
    note = f"The stamps have no year: the first row is taken to be of {year} ({why})"
    turned = int(passed.max() - passed.min())
    note += f"; New Year passes {_times(turned)}" if turned else ""
    at = pl.Series(known.arg_true().to_numpy()[exists], dtype=pl.UInt32)
    out = pl.repeat(None, len(days), dtype=pl.Int32, eager=True).scatter(at, pl.Series(full[exists], dtype=pl.Int32))
    return out, (note + "; state [log] year in the profile.",)


def with_days(clock: pl.Series, origin: Origin) -> tuple[pl.Series, tuple[str, ...]]:
    """Days since 1970 (Int64) of rows that have the time of day only, and what was assumed."""
    known = clock.is_not_null()
    times = clock.drop_nulls().to_numpy()
    passed = _passed(times, _NIGHT_US, DAY_US)
    day, why = _first_day(origin, passed)
    base = np.full(len(times), days_since_1970(day))
    if origin.day is None:
        base, passed = _by_file(base, passed, known, origin)
    out = pl.repeat(None, len(clock), dtype=pl.Int64, eager=True).scatter(known.arg_true(), pl.Series(base + passed))
    shown = date.fromordinal(date(1970, 1, 1).toordinal() + int(base[0] + passed[0]))
    notes = [f"The stamps have no date: the first row is taken to be of {shown} ({why}); [log] date states another."]
    nights = np.diff(passed, prepend=passed[0]) != 0
    if nights.any():
        mask = pl.repeat(False, len(clock), eager=True).scatter(known.arg_true(), pl.Series(nights))
        notes.append(
            f"Midnight is taken to have passed {_times(int(nights.sum()))}, where the time of day goes back by more "
            f"than two hours ({lines_said(mask, origin.lines)}); a pause of more than a day cannot be seen."
        )
    return out, tuple(notes)


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _passed(values: Ints, back: int, period: int) -> Ints:
    """How often the period has begun anew before each row, by steps back of more than `back`.

    A record that is newest first (its small steps go back) counts down.
    """
    step = np.diff(values, prepend=values[0])
    forward, backward = step < -back, step > back
    small = step[(step != 0) & (np.abs(step) <= period // 2)]
    newest_first = len(small) > 0 and bool(np.count_nonzero(small < 0) > 9 * np.count_nonzero(small > 0))
    if not len(small) and period != DAY_US:  # nothing but New Year: a pause of nearly a year is the less likely reading
        newest_first = bool(backward.any() and not forward.any())
    return -np.cumsum(backward, dtype=np.int64) if newest_first else np.cumsum(forward, dtype=np.int64)


def _first_year(in_year: Ints, passed: Ints, origin: Origin) -> tuple[int, str]:
    """The year of the first row, and how it is known."""
    if origin.year is not None:
        return origin.year, "as the profile states"
    named = next((piece.named for piece in origin.pieces if piece.named), None)
    if named is not None:
        return named.year, "from the name of the file"
    written = origin.written
    if written is None:
        return LEAP_YEAR, "nothing tells which"
    newest = int(passed.argmax()) if passed[-1] < 0 else len(passed) - 1
    later = int(in_year[newest]) > _day_number(written.month, written.day) + 1
    return written.year - later - int(passed[newest]), "by the day on which the file was written"


def _first_day(origin: Origin, passed: Ints) -> tuple[date, str]:
    if origin.day is not None:
        return origin.day, "as the profile states"
    if any(piece.named for piece in origin.pieces):
        return next(piece.named for piece in origin.pieces if piece.named), "from the name of the file"
    written = origin.written
    if written is None:
        return _ASSUMED, "nothing tells which"
    newest = int(passed.max())
    return date.fromordinal(written.date().toordinal() - newest), "by the day on which the file was written"


def _by_file(base: Ints, passed: Ints, known: pl.Series, origin: Origin) -> tuple[Ints, Ints]:
    """Files with a date in their name begin on that day; the count of midnights begins anew with each of them."""
    number = known.to_numpy().cumsum()  # rows with a time of day up to each row
    begin = 0
    base, passed = base.copy(), passed.copy()
    for piece in origin.pieces:
        end = min(begin + piece.rows, len(number))
        low = int(number[begin - 1]) if begin else 0
        high = int(number[end - 1]) if end else 0
        if piece.named and high > low:
            base[low:] = days_since_1970(piece.named)
            passed[low:] -= passed[low]
        begin = end
    return base, passed


def _day_number(month: int, day: int) -> int:
    """Day of the place-holder year, from 0."""
    return days_since_1970(date(LEAP_YEAR, month, day)) - _LEAP_FIRST


def _leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
