"""When it happens: one shift, one time of the day, from one day on, more and more."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.causes.complaints import Complaint
from eventlens.causes.signs import Sign, excess_factor, lines_behind, onset_factor, tail, trend_factor

SLOT_MIN: Final = 30
"""Length of a time of the day [min] (judgement)."""
LEAST_DAYS: Final = 5
"""Fewer working days show no course (judgement)."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """When the complaint's moments come, against the runs at these times."""
    subject, moments = complaint.subject, complaint.moments
    runs = subject.runs_of(complaint.motion)
    if moments.is_empty() or runs.is_empty():
        return
    yield from _clock(complaint, moments, runs)
    if len(subject.shifts) > 1:
        yield from _shift(complaint, moments, runs)
    yield from _course(complaint, moments, runs)


def _minute(zone: str, column: str) -> pl.Expr:
    local = pl.col(column).dt.convert_time_zone(zone)
    return local.dt.hour().cast(pl.Int32) * 60 + local.dt.minute()


def _clock(complaint: Complaint, moments: pl.DataFrame, runs: pl.DataFrame) -> Iterator[Sign]:
    """The half hour of the day with the most, against the runs in it; days are counted once each."""
    subject, zone = complaint.subject, complaint.subject.log.timezone
    slot = (_minute(zone, "at") // SLOT_MIN).alias("slot")
    once = moments.with_columns(slot, day=subject.local_day("at")).unique(["slot", "day"], maintain_order=True)
    use = runs.with_columns(slot=_minute(zone, "start") // SLOT_MIN, day=subject.local_day())
    worked = use.unique(["slot", "day"])
    if once.height < 3 or worked["day"].n_unique() < LEAST_DAYS:
        return
    counts = dict(once["slot"].value_counts().iter_rows())
    exposure = dict(worked["slot"].value_counts().iter_rows())
    place, hits = max(sorted(counts.items()), key=lambda item: item[1])
    share = exposure.get(place, 1) / worked.height
    begin = f"{place * SLOT_MIN // 60:02d}:{place * SLOT_MIN % 60:02d}"
    text = f"{hits} of {once.height} (each day once) in the half hour from {begin}, {share:.0%} of the work"
    factor = excess_factor(hits, once.height, share, among=max(len(exposure), 1))
    yield Sign("one_clock_time", factor, text, p=min(tail(hits, once.height, share) * len(exposure), 1.0))


def _shift(complaint: Complaint, moments: pl.DataFrame, runs: pl.DataFrame) -> Iterator[Sign]:
    """The shift with the largest excess, against the runs of each."""
    zone = complaint.subject.log.timezone
    shifts = complaint.subject.shifts
    counts, use = (
        _by_shift(frame, _minute(zone, column), shifts) for frame, column in ((moments, "at"), (runs, "start"))
    )
    n, whole = sum(counts), sum(use)
    if n < 3 or not whole:
        return
    place = max(range(len(shifts)), key=lambda i: counts[i] / max(use[i], 1))
    share = use[place] / whole
    text = f"{counts[place]} of {n} on the shift {shifts[place]}, which has {share:.0%} of the runs"
    factor = excess_factor(counts[place], n, share, among=len(shifts))
    rows = lines_behind(moments)
    yield Sign("one_shift", factor, text, rows, min(tail(counts[place], n, share) * len(shifts), 1.0))


def _by_shift(frame: pl.DataFrame, minute: pl.Expr, shifts: tuple[str, ...]) -> list[int]:
    minutes = frame.select(minute.alias("minute"))["minute"]
    return [int(_within(minutes, shift).sum()) for shift in shifts]


def _within(minutes: pl.Series, shift: str) -> pl.Series:
    begin, end = (int(text[:2]) * 60 + int(text[3:]) for text in shift.split("-"))
    return minutes.is_between(begin, end - 1) if begin < end else (minutes >= begin) | (minutes < end)


def _course(complaint: Complaint, moments: pl.DataFrame, runs: pl.DataFrame) -> Iterator[Sign]:
    """From one day on, or more and more, per run of each working day."""
    subject = complaint.subject
    use = runs.group_by(day=subject.local_day()).agg(runs=pl.len())
    hits = moments.group_by(day=subject.local_day("at")).agg(hits=pl.len())
    days = use.join(hits, on="day", how="left").fill_null(0).sort("day")
    if days.height < LEAST_DAYS:
        return
    counts, exposure = days["hits"].to_list(), days["runs"].cast(pl.Float64).to_list()
    onset, at = onset_factor(counts, exposure)
    n = sum(counts)
    text = (
        f"{sum(counts[at:])} of {n} from {days['day'][at]} on"
        if at
        else f"{n} over {days.height} days, no day of beginning"
    )
    yield Sign("began_one_day", onset, text, lines_behind(moments))
    half = len(counts) // 2
    hits_then = f"{sum(counts[:half])} in the first half of the days, {sum(counts[half:])} in the second"
    text = f"{hits_then}, for {sum(exposure[:half]):.0f} and {sum(exposure[half:]):.0f} runs"
    yield Sign("growing", trend_factor(counts, exposure), text)
