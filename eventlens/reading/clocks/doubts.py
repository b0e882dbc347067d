"""Stamps that show no true instant: impossible parts, and a clock that was never set after it lost its supply."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

import polars as pl

from eventlens.reading.clocks.months import MONTHS
from eventlens.reading.clocks.stamps import DAY_US, HOUR_US, Stamps, either, lines_said

_MONTH: Final = r"(?i)\b(?:" + "|".join(sorted(MONTHS, key=len, reverse=True)) + r")\b"
_DIGITS: Final = r"[0-9A-Fa-f?]+"
_SAMPLE: Final = 10_000
_YEAR_US: Final = 365 * DAY_US
_ZONES_US: Final = 14 * HOUR_US
"""A factory date that is shown in local time is off by no more than this."""


def impossible(text: pl.Series, time: pl.Series, undated: pl.Series | None = None) -> pl.Series | None:
    """Rows whose text is built like the stamps that were read but shows no instant (45.165.2165 63:10:85).

    undated: rows of which that is known already.
    """
    if time.null_count() in (0, len(time)):
        return undated
    unread = time.is_null() & text.is_not_null()
    if not unread.any():
        return undated
    shapes = _shape(text.filter(time.is_not_null()).head(_SAMPLE)).unique()
    at = unread.arg_true()
    alike = _shape(text.gather(at)).is_in(shapes.implode())
    found = pl.repeat(False, len(text), eager=True).scatter(at, alike.fill_null(False))
    return either(undated, found if found.any() else None)


def _shape(text: pl.Series) -> pl.Series:
    """A stamp without its digits (hexadecimal and unreadable ones too) and names of months."""
    plain = text.str.strip_chars().str.replace_all(_MONTH, "MMM")
    return plain.str.replace_all(_DIGITS, "0").str.replace_all(r"\s+", " ")


def with_doubts(stamps: Stamps, lines: pl.Series | None = None) -> Stamps:
    """The stamps with breaks around those of a clock that was not set, and with notes on doubtful ones."""
    if stamps.undated is not None and stamps.undated.any():
        count = int(stamps.undated.sum())
        shown = "1 stamp shows" if count == 1 else f"{count} stamps show"
        stamps = stamps.say(
            f"{shown} no possible instant ({lines_said(stamps.undated, lines)}): kept as records at an unknown time "
            "between their neighbours."
        )
    return _not_set(stamps, lines)


def _not_set(stamps: Stamps, lines: pl.Series | None) -> Stamps:
    """Finds stretches that begin on a first of January, more than a year before most other stamps."""
    known = stamps.time.drop_nulls()
    if len(known) < 2 or int(known.max()) - int(known.min()) <= _YEAR_US:  # type: ignore[arg-type]
        return stamps
    step = known.diff()
    jumps = ((step > _YEAR_US) | (step < -_YEAR_US)).fill_null(False)
    frame = pl.DataFrame({"t": known, "stretch": jumps.cast(pl.UInt32).cum_sum()})
    usual = float(known.median())  # type: ignore[arg-type]
    first = frame.group_by("stretch", maintain_order=True).agg(pl.col("t").min(), pl.len())
    set_late = frame.filter(pl.col("t") > pl.col("t").max() - _YEAR_US)["t"].median()
    truth = max(usual, float(set_late or usual))  # type: ignore[arg-type]
    unset = [row["stretch"] for row in first.iter_rows(named=True) if _is_factory(row["t"], truth)]
    if not unset:
        return stamps
    at = stamps.time.is_not_null().arg_true()
    inside = pl.repeat(False, len(stamps.time), eager=True).scatter(at, frame["stretch"].is_in(unset))
    breaks = pl.repeat(False, len(stamps.time), eager=True).scatter(at, jumps & _touches(frame["stretch"], unset))
    day = datetime(1970, 1, 1) + timedelta(microseconds=int(known.filter(frame["stretch"].is_in(unset))[0]))
    count = int(inside.sum())
    note = (
        f"{count} row{'s bear' if count > 1 else ' bears'} the date that a clock starts with when it was not set, "
        f"{day.date()} ({lines_said(inside, lines)}): in their place in the record, but no duration is taken across."
    )
    return replace(stamps, breaks=either(stamps.breaks, breaks)).say(note)


def _is_factory(first_us: int, truth_us: float) -> bool:
    """Whether a stretch begins within hours of a New Year (in any zone), more than a year before the others."""
    if truth_us - first_us <= _YEAR_US:
        return False
    shifted = datetime(1970, 1, 1) + timedelta(microseconds=first_us + _ZONES_US)
    return shifted.timetuple().tm_yday <= 2


def _touches(stretch: pl.Series, unset: list[int]) -> pl.Series:
    """Rows at which such a stretch begins, or the one after it."""
    inside = stretch.is_in(unset)
    return inside | inside.shift(fill_value=False)
