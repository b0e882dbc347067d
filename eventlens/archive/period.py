"""A part of a log by time, and its review: the same for an archive as for the dumps themselves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from eventlens.causes.facts import load_knowledge
from eventlens.comparison.cut import cut, instant_of
from eventlens.errors import EventlensError
from eventlens.machine import Machine
from eventlens.reading import Log
from eventlens.result import Review
from eventlens.wiring import review_log

Instant = str | datetime | None


class NoRecord(EventlensError):
    """A period in which nothing was recorded."""


def window(log: Log, start: Instant = None, end: Instant = None) -> Log:
    """The log from `start` on, up to but not including `end` (ISO 8601 text or datetimes; without an offset in the zone
    of the log). An instant outside the log cuts nothing off. NoRecord where nothing is left.
    """
    begin = None if start is None else instant_of(start, log.timezone)
    stop = None if end is None else instant_of(end, log.timezone)
    if begin is not None and stop is not None and begin >= stop:
        raise EventlensError("a period that ends after it begins", f"{start} to {end}", "exchange the two")
    first, last = log.segments["start"].min(), log.segments["end"].max()
    if (begin is not None and begin > last) or (stop is not None and stop <= first):  # type: ignore[operator]
        raise _nothing(log)
    if stop is not None and stop <= last:  # type: ignore[operator]
        log = cut(log, stop)[0]
        if begin is not None and begin > log.segments["end"].max():  # type: ignore[operator]
            raise _nothing(log)
    if begin is not None and log.start < begin < log.segments["end"].max():  # type: ignore[operator]
        log = cut(log, begin)[1]
    return log


def _nothing(log: Log) -> NoRecord:
    zone = ZoneInfo(log.timezone)
    first, last = (
        at.astimezone(zone).isoformat(" ", "seconds")[:19]  # type: ignore[union-attr]
        for at in (log.segments["start"].min(), log.segments["end"].max())
    )
    return NoRecord("a period with records", "none in it", f"choose one within {first} to {last} ({log.timezone})")


def review_period(
    log: Log,
    machine: Machine,
    start: Instant = None,
    end: Instant = None,
    *,
    checked: Sequence[str] = (),
    knowledge: str | Path | None = None,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """The review of a part of a log; else as eventlens.review."""
    known = load_knowledge(Path(knowledge)) if knowledge is not None else None
    found = replace(review_log(window(log, start, end), machine, progress=progress), knowledge=known)
    return found.with_checks(checked)
