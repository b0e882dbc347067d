"""Which work on the machine a comparison is about: repairs and exchanges that people wrote down.

Entries of one instant are one piece of work. The log before it reaches back to the work before, and the log after it
to the next: so that a comparison shows what this work changed and no other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import polars as pl

from eventlens.archive.stated import WORK
from eventlens.errors import ArchiveError

LISTED = 4
"""Pieces of work that are named before the rest is only counted."""


@dataclass(frozen=True)
class Work:
    """What was done at one instant."""

    at: datetime
    text: str
    start: datetime | None
    """The work before it; None: there is none in the log."""
    end: datetime | None
    """The work after it."""

    def told(self, timezone: str) -> str:
        """In words."""
        return f"{self.at.astimezone(ZoneInfo(timezone)).isoformat(' ', 'minutes')[:16]} {self.text}"


def works_in(entries: pl.DataFrame, first: datetime, last: datetime) -> list[Work]:
    """The work with log on both sides, the latest first. entries: those of one machine; first, last: of its log."""
    done = (
        entries.filter(pl.col("kind").is_in(WORK) & (pl.col("at") > first) & (pl.col("at") < last))
        .sort("at", "kind", "text")
        .group_by("at", maintain_order=True)
        .agg(text=pl.format("{} {}", "kind", "text").str.join("; "))
    )
    found = done.with_columns(start=pl.col("at").shift(1), end=pl.col("at").shift(-1))
    return [Work(*row) for row in found.select("at", "text", "start", "end").reverse().iter_rows()]


def chosen(works: Sequence[Work], wanted: str, machine: str, timezone: str) -> Work:
    """The work with that number (1: the latest) or on that day; ArchiveError where it is none or not one alone."""
    if wanted.isdigit() and len(wanted) < len("2026"):
        found = [work for number, work in enumerate(works, 1) if number == int(wanted)]
    else:
        found = [work for work in works if work.told(timezone).startswith(wanted.replace("T", " "))]
    if len(found) != 1:
        got = f"'{wanted}'" + (f", which {len(found)} are" if found else "")
        raise ArchiveError(
            f"one repair of {machine} with log on both sides", got, f"known are {listed(works, timezone)}"
        )
    return found[0]


def none_written(entries: pl.DataFrame, machine: str, first: datetime, last: datetime, timezone: str) -> ArchiveError:
    """What is said where no work has log on both sides."""
    done = entries.filter(pl.col("kind").is_in(WORK)).sort("at")
    if done.is_empty():
        remedy = "write it down with eventlens archive add --repair, or give its time with --at"
        return ArchiveError(f"a repair or exchange of {machine} in the archive", "none written down", remedy)
    at, text = done.select("at", pl.format("{} {}", "kind", "text")).row(-1)
    span = " to ".join(at.astimezone(ZoneInfo(timezone)).isoformat(" ", "minutes")[:16] for at in (first, last))
    return ArchiveError(
        f"a repair of {machine} with log on both sides ({span})",
        f"'{Work(at, text, None, None).told(timezone)}' as the last",
        "add the dumps around it, or give another time with --at",
    )


def listed(works: Sequence[Work], timezone: str) -> str:
    """The works with their numbers."""
    named = [f"{number}: {work.told(timezone)}" for number, work in enumerate(works[:LISTED], 1)]
    more = [f"{len(works) - LISTED} older"] if len(works) > LISTED else []
    return ", ".join([*named, *more])


def notes(work: Work, works: Sequence[Work], timezone: str) -> Iterator[str]:
    """What a reader of the comparison must know."""
    yield f"the work is {work.told(timezone)}"
    sides = [("before", work.start, "from"), ("after", work.end, "up to")]
    for side, at, how in sides:
        if at is not None:
            other = next(one for one in works if one.at == at)
            yield f"the log {side} it reaches {how} the work {other.told(timezone)}"
    if len(works) > 1:
        yield f"written down with log on both sides are {listed(works, timezone)} (choose with --repair)"
