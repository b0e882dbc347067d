"""Before a repair against after it, for whatever the pages show: a machine of an archive, one log, or a dump."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import polars as pl

from dashboards.data._compared import Compared
from dashboards.data.history import WORK
from dashboards.data.source import Fault, Kept, Source
from dashboards.repairs import Written
from eventlens import signals
from eventlens.archive import Archive
from eventlens.comparison import Comparison, compare_log
from eventlens.comparison.moved import exchange
from eventlens.result import Review

__all__ = ["Asked", "Compared", "Subject", "exchanged", "places", "subject"]

Tell = Callable[[str], None]


@dataclass(frozen=True)
class Asked:
    """Which work is asked about."""

    repair: str = ""
    """Key of work that is written down; empty with no `at`: the latest."""
    at: str = ""
    """A time that was typed instead."""
    until: str = ""
    """When the work ended; empty: it took no time."""


@dataclass(frozen=True)
class Subject:
    """One machine with its log."""

    machine: str
    zone: str
    """In which times are read and shown."""
    span: tuple[str, str]
    """First and last instant of the log, as 2026-03-02 06:00."""
    works: tuple[Written, ...]
    """What people wrote down, the latest first; of a log alone nothing is known."""
    archived: bool
    key: tuple[object, ...]
    """What the answers rest on."""
    compare: Callable[[Asked, Tell], Comparison]

    def chosen(self, asked: Asked) -> Asked | None:
        """What is compared for an address: the latest work where it names none; None where there is nothing to ask."""
        if asked.at or asked.repair:
            return asked
        latest = next((work.key for work in self.works if work.usable), None)
        return Asked(repair=latest, until=asked.until) if latest else None

    def others(self, found: Compared) -> list[Written]:
        """Other work that is written down within the compared log: what changed may be due to that."""
        return [work for work in self.works if any(start < work.moment < end for start, end in found.spans)]


def subject(source: Source, machine: str | None, dump: str | None, visitor: str) -> Subject:
    """The machine that an address names; Fault, or what the shelf says, where there is none for this visitor."""
    if dump is not None:
        if source.intake is None:
            raise Fault("an address of the log that is shown", f"dump {dump}", "open the start page")
        return _of_review(source.intake.week(visitor, dump).review, source.intake.review_key(visitor, dump))
    if isinstance(source, Kept):
        return _of_archive(source.archive, source.known(machine), source.archive.version())
    return _of_review(source.week(machine, None).review, ())


def _of_review(review: Review, key: tuple[object, ...]) -> Subject:
    log, plate = review.log, review.machine

    def run(asked: Asked, tell: Tell) -> Comparison:
        return compare_log(log, plate, asked.at, asked.until or None, progress=tell)

    span = _minute(log.start, log.timezone), _minute(log.end, log.timezone)
    return Subject(plate.id, log.timezone, span, (), False, (*key, plate.id), run)


def _of_archive(archive: Archive, machine: str, state: object) -> Subject:
    known, zone = archive.repairs(machine)
    first, last = archive.contents().filter(pl.col("machine") == machine).select(
        pl.col("first").min(), pl.col("last").max()
    ).row(0)  # fmt: skip
    entries = archive.entries(machine)

    def run(asked: Asked, tell: Tell) -> Comparison:
        at, written = asked.at or None, None if asked.at else asked.repair or None
        return archive.compare(machine, at=at, until=asked.until or None, repair=written, progress=tell)

    works = written(entries, {work.at for work in known}, zone)
    span = _minute(first, zone), _minute(last, zone)
    return Subject(machine, zone, span, works, True, (state, machine), run)


def written(entries: pl.DataFrame, usable: Iterable[datetime], zone: str) -> tuple[Written, ...]:
    """The work that people wrote down, the latest first; entries of one instant are one piece of work."""
    told = (
        entries.filter(pl.col("kind").is_in(WORK) & pl.col("at").is_not_null())
        .sort("at", "kind", "text")
        .group_by("at", maintain_order=True)
        .agg(text=pl.format("{}: {}", pl.col("kind").replace(_KINDS), "text").str.join("; "))
        .reverse()
    )
    within = set(usable)
    return tuple(
        Written(_minute(at, zone).replace(" ", "T"), _minute(at, zone), text, at in within, at)
        for at, text in told.select("at", "text").iter_rows()
    )


_KINDS: Mapping[str, str] = {"repair": "repair", "exchanged": "part exchanged"}


def _minute(at: datetime, zone: str) -> str:
    return at.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")


def places(motions: Iterable[str]) -> dict[str, str]:
    """Places between which parts can be exchanged, by what a comparison calls them, and in words."""
    found: dict[str, str] = {}
    for motion in motions:
        found[motion] = f"{motion}, all of it"
        for way in (*signals.MOTIONS[motion], "fast", "brake"):
            found[f"{motion}.{way}"] = f"{motion}: {way}"
    return found


def exchanged(text: str) -> tuple[str, str]:
    """Both places of 'A:B'; Fault for another text."""
    first, second = exchange(text)
    return first.text, second.text
