"""What there is to do: machines and periods whose stored review is missing, or rests on something that has changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.archive.dumps import ledger
from eventlens.archive.entries import entries
from eventlens.archive.lake import Lake
from eventlens.archive.machines import Machines
from eventlens.archive.period import bounds
from eventlens.archive.spans import Span, Spans, months_in, weeks_in
from eventlens.archive.tables import PERIODS, RECORD, REVIEWS
from eventlens.archive.weekly import room
from eventlens.archive.weeks import SILENT, State, Wanted, program, stored, wanted
from eventlens.errors import EventlensError, nearest
from eventlens.schema import Table

TOGETHER: Final = 5
"""Periods of one task at most: the weeks of a monthly dump, so that it is read once (judgement)."""
WEEK: Final = "week"
KINDS: Final = (WEEK, "month", "all")


@dataclass(frozen=True)
class Task:
    """Periods of one machine that rest on the same dumps; all that a worker needs but the archive itself."""

    archive: str
    """Folder or address of the archive, as workers see it too."""
    machine: str
    wanted: tuple[Wanted, ...]
    entries: pl.DataFrame
    """tables.ENTRIES of the machine."""
    table: str
    """Where the reviews are kept."""
    program: str
    """The version of eventlens that asks, and that has to answer: it stands in the keys."""
    alone: bool = False
    """Tried once more, by itself."""

    def parts(self) -> list[Task]:
        """A task for each period, to be tried alone."""
        return [replace(self, wanted=(one,), alone=True) for one in self.wanted]

    def __str__(self) -> str:
        first, last = self.wanted[0].period, self.wanted[-1].period
        return f"{self.machine} {first}" + (f" to {last}" if last != first else "")


@dataclass(frozen=True)
class Fault:
    """Why there is no review; period: empty where it is all of the machine."""

    machine: str
    period: str
    why: str


@dataclass(frozen=True)
class Plan:
    """What there should be, and what of it is missing."""

    lake: Lake
    period: str
    """As it was asked for."""
    table: Table
    wanted: dict[str, tuple[str, ...]]
    """Names of the periods, by machine."""
    tasks: tuple[Task, ...]
    stale: dict[str, set[str]]
    """Stored weeks in which there is no log any more."""
    faults: tuple[Fault, ...]
    """Machines of which not even the periods are known."""


def planned(
    archive: str | Path, period: str = WEEK, machines: Sequence[str] | None = None, *, retry: bool = False
) -> Plan:
    """The plan for these machines (None: all). retry: also what ended without a review the last time.

    EventlensError for a period that cannot be meant; ArchiveError where there is no archive, or no such machine.
    """
    spans = spans_of(period)
    known = Machines(archive)
    lake, table = known.lake, REVIEWS if period == WEEK else PERIODS
    there = known.machines()
    names = there if machines is None else list(dict.fromkeys(machines))
    for name in set(names).difference(there):
        known.known(name)  # says what it does not know
    kept = stored(lake, None, ("machine", table.sort[1], "key", "why"), table)
    state = State(ledger(lake, lake.opened(RECORD.name)), entries(lake), kept.rename({table.sort[1]: "period"}))
    every, tasks, stale, faults = {}, [], {}, []
    for name in names:
        mine = state.machine(name)
        try:
            with room() as folder:
                due = wanted(mine, folder, spans)
        except EventlensError as fault:
            faults.append(Fault(name, "", str(fault)))
            continue
        every[name] = tuple(one.period for one in due)
        done = dict(_settled(mine.stored, retry=retry).select("period", "key").iter_rows())
        missing = [one for one in due if done.get(one.period) != one.key]
        tasks += [Task(lake.root, name, part, mine.entries, table.name, program()) for part in _parts(missing)]
        if table is REVIEWS:
            stale[name] = set(mine.stored["period"]) - set(every[name])
    return Plan(lake, period, table, every, tuple(tasks), stale, tuple(faults))


def spans_of(period: str) -> Spans:
    """What is meant by week, month, all or FROM..TO (instants as for review; either may be left out)."""
    if period == WEEK:
        return weeks_in
    if period == "month":
        return months_in
    if period == "all":
        return lambda rows, timezone: {"all": (None, None)}
    start, dots, end = period.partition("..")
    if not dots or not (start or end):
        raise EventlensError(
            "week, month, all or FROM..TO as 2026-04-01..2026-05-01", f"'{period}'", nearest(period, KINDS)
        )
    between = partial(bounds, start or None, end or None)
    between("UTC")  # said before the work, not after it

    def asked(rows: pl.DataFrame, timezone: str) -> dict[str, Span]:
        return {period: between(timezone)}

    return asked


def _settled(kept: pl.DataFrame, *, retry: bool) -> pl.DataFrame:
    """What need not be done again where its key is still the same."""
    return kept.filter(pl.col("why").is_null() | (pl.col("why") == SILENT)) if retry else kept


def _parts(missing: Sequence[Wanted]) -> Iterator[tuple[Wanted, ...]]:
    """Neighbours that rest on the same dumps, at most TOGETHER of them."""
    for _, group in groupby(missing, key=lambda one: sorted(dump.file for dump in one.dumps)):
        same = list(group)
        for at in range(0, len(same), TOGETHER):
            yield tuple(same[at : at + TOGETHER])
