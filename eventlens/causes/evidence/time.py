"""When it happens: one shift, one time of the day, from one day on, more and more, since work was done."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.causes.complaints import Complaint
from eventlens.causes.signs import (
    ABSENT,
    Sign,
    excess_factor,
    onset_factor,
    share_factor,
    tail,
    trend_factor,
)

QUARTER_MIN: Final = 15
"""A time of the day is half an hour long (judgement) and begins at a quarter [min]."""
LEAST_DAYS: Final = 5
"""Fewer working days show no course (judgement)."""
LEAST_MOMENTS: Final = 3
"""Fewer moments are held against no work (judgement)."""
LEAST_BEFORE: Final = 1.0
"""Where a steady rate would give fewer than this before the work, the log has too little before it (judgement)."""
STILL: Final = 0.1
"""So much of the later rate may have been there before the work (judgement, as for the day of beginning)."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """When the complaint's moments come, against the runs at these times."""
    subject, moments = complaint.subject, complaint.moments
    runs = subject.runs_of(complaint.motion)
    if moments.is_empty() or runs.is_empty():
        return
    times = subject.local_times(moments["at"])
    yield from _clock(complaint, times)
    if len(subject.shifts) > 1:
        yield from _shift(complaint, times)
    yield from _course(complaint, times)
    yield from _after_work(complaint, moments, runs)


def _clock(complaint: Complaint, times: pl.DataFrame) -> Iterator[Sign]:
    """The half hour of the day with the most, against the work in it; each day is counted once in it.

    Half hours begin at every quarter, so that none is cut by a border.
    """
    motion = complaint.motion
    once = _halves(times)
    worked = complaint.subject.once(f"half hours of {motion}", lambda subject: _halves(subject.run_times(motion)))
    days = worked["day"].n_unique()
    if times.height < 3 or days < LEAST_DAYS:
        return
    counts = dict(once["half"].value_counts().iter_rows())
    exposure = dict(worked["half"].value_counts().iter_rows())
    place, hits = max(sorted(counts.items()), key=lambda item: item[1])
    tries = once.height // 2  # every moment lies in two of them
    share = exposure.get(place, 1) / max(worked.height / 2, 1)
    begin = f"{place * QUARTER_MIN // 60:02d}:{place * QUARTER_MIN % 60:02d}"
    text = f"{hits} of {tries} (each day once) in the half hour from {begin}, {share:.0%} of the work"
    hits, share = min(hits, tries), min(share, 0.99)
    factor = excess_factor(hits, tries, share, among=max(len(exposure) // 2, 1))
    rows = complaint.lines
    yield Sign("one_clock_time", factor, text, rows, min(tail(hits, tries, share) * len(exposure), 1.0))


def _halves(times: pl.DataFrame) -> pl.DataFrame:
    """(half, day): the half hours, by the quarter in which they begin, that hold something, each day once.

    times: (day, minute), by time or nearly so: most fall into the quarter of the one before.
    """
    at = times.select("day", half=pl.col("minute") // QUARTER_MIN)
    at = at.filter(
        (pl.col("half") != pl.col("half").shift(1)).fill_null(value=True) | (pl.col("day") != pl.col("day").shift(1))
    )
    before = at.with_columns((pl.col("half") - 1) % (24 * 60 // QUARTER_MIN))
    return pl.concat([at, before]).unique(["half", "day"], maintain_order=True)


def _shift(complaint: Complaint, times: pl.DataFrame) -> Iterator[Sign]:
    """The shift with the largest excess, against the runs of each."""
    motion, shifts = complaint.motion, complaint.subject.shifts
    counts = _by_shift(times, shifts)
    use = complaint.subject.once(
        f"runs a shift of {motion}", lambda subject: _by_shift(subject.run_times(motion), shifts)
    )
    n, whole = sum(counts), sum(use)
    if n < 3 or not whole:
        return
    place = max(range(len(shifts)), key=lambda i: counts[i] / max(use[i], 1))
    share = use[place] / whole
    text = f"{counts[place]} of {n} on the shift {shifts[place]}, which has {share:.0%} of the runs"
    factor = excess_factor(counts[place], n, share, among=len(shifts))
    rows = complaint.lines
    yield Sign("one_shift", factor, text, rows, min(tail(counts[place], n, share) * len(shifts), 1.0))


def _by_shift(times: pl.DataFrame, shifts: tuple[str, ...]) -> list[int]:
    return [int(_within(times["minute"], shift).sum()) for shift in shifts]


def _within(minutes: pl.Series, shift: str) -> pl.Series:
    begin, end = (int(text[:2]) * 60 + int(text[3:]) for text in shift.split("-"))
    return minutes.is_between(begin, end - 1) if begin < end else (minutes >= begin) | (minutes < end)


def _course(complaint: Complaint, times: pl.DataFrame) -> Iterator[Sign]:
    """From one day on, or more and more, per run of each working day."""
    motion = complaint.motion
    use = complaint.subject.once(
        f"runs a day of {motion}", lambda subject: subject.run_times(motion).group_by("day").agg(runs=pl.len())
    )
    hits = times.group_by("day").agg(hits=pl.len())
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
    yield Sign("began_one_day", onset, text, complaint.lines)
    half = len(counts) // 2
    hits_then = f"{sum(counts[:half])} in the first half of the days, {sum(counts[half:])} in the second"
    text = f"{hits_then}, for {sum(exposure[:half]):.0f} and {sum(exposure[half:]):.0f} runs"
    yield Sign("growing", trend_factor(counts, exposure), text, complaint.lines)


def _after_work(complaint: Complaint, moments: pl.DataFrame, runs: pl.DataFrame) -> Iterator[Sign]:
    """Only since work was done, per run before and after it; of several works the one that parts them best.

    Unknown where no work within the log is written down, or where too little lies before it.
    """
    n, whole = moments.height, runs.height
    if n < LEAST_MOMENTS:
        return
    found: list[tuple[float, float, str]] = []
    for at in sorted(set(complaint.subject.work_done)):
        used, hits = (int((frame[name] >= at).sum()) for frame, name in ((runs, "start"), (moments, "at")))
        if used == 0 or n * (whole - used) / whole < LEAST_BEFORE:
            continue
        share = used / whole
        holds = used / (used + STILL * (whole - used))
        text = f"{hits} of {n} after the work of {at:%Y-%m-%d %H:%M} UTC, {used} of {whole} runs after it"
        found.append((share_factor(hits, n, share, holds), tail(hits, n, share), text))
    if found:
        factor, p, text = max(found)
        yield Sign("after_work", max(factor / len(found), ABSENT), text, complaint.lines, min(p * len(found), 1.0))
