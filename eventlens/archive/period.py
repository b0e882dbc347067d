"""A part of a log by time, and its review: the same for an archive as for the dumps themselves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from eventlens.archive.stated import apply, counting, with_shifts
from eventlens.causes.facts import load_knowledge
from eventlens.comparison.cut import instant_of, part_of, stretches
from eventlens.errors import EventlensError
from eventlens.machine import Machine
from eventlens.reading import Log
from eventlens.result import Review
from eventlens.wiring import review_log

Instant = str | datetime | None


class NoRecordError(EventlensError):
    """A period in which nothing was recorded."""


def window(log: Log, start: Instant = None, end: Instant = None) -> Log:
    """The log from `start` on, up to but not including `end` (ISO 8601 text or datetimes; without an offset in the zone
    of the log). An end not before the last record cuts nothing off, nor does a start not after the first one.
    NoRecordError where nothing is left.
    """
    begin, stop = bounds(start, end, log.timezone)
    first, last = log.segments["start"].min(), log.segments["end"].max()
    if stop is not None and stop <= first:  # type: ignore[operator]
        raise nothing_in(first, last, log.timezone)
    stop = stop if stop is not None and stop < last else None  # type: ignore[operator]
    begin = begin if begin is not None and begin > first else None  # type: ignore[operator]
    if begin is not None and begin >= stretches(log.segments, None, stop)["end"].max():  # type: ignore[operator]
        raise nothing_in(first, last, log.timezone)
    return log if begin is None and stop is None else part_of(log, begin, stop)


def bounds(start: Instant, end: Instant, timezone: str) -> tuple[datetime | None, datetime | None]:
    """Both as instants; EventlensError where the period does not end after it begins."""
    begin, stop = (None if at is None else instant_of(at, timezone) for at in (start, end))
    if begin is not None and stop is not None and begin >= stop:
        raise EventlensError("a period that ends after it begins", f"{start} to {end}", "exchange the two")
    return begin, stop


def nothing_in(first: Any, last: Any, timezone: str) -> NoRecordError:
    """What is said of a period outside first to last, or in a hole between them."""
    zone = ZoneInfo(timezone)
    shown = " to ".join(at.astimezone(zone).isoformat(" ", "seconds")[:19] for at in (first, last))
    return NoRecordError("a period with records", "none in it", f"choose one within {shown} ({timezone})")


def review_period(
    log: Log,
    machine: Machine,
    start: Instant = None,
    end: Instant = None,
    *,
    entries: pl.DataFrame | None = None,
    checked: Sequence[str] = (),
    knowledge: str | Path | None = None,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """The review of a part of a log; else as eventlens.review.

    entries: what people wrote down about the machine (Archive.entries), as it counts in the period (archive.stated).
    """
    known = load_knowledge(Path(knowledge)) if knowledge is not None else None
    part, said = window(log, start, end), counting(entries, *bounds(start, end, log.timezone))
    plate, shifts = with_shifts(machine, said, part)
    found = replace(review_log(part, plate, progress=progress), knowledge=known)
    if said:
        found = apply(found, said, shifts)
    return found.with_checks(checked)
