"""Stored reviews: one for each machine and ISO week, and beside it what trends need of it; and those of other periods.

A week begins on Monday at 00:00 in the zone of the log. What a review rests on is its key: the dumps with records in
the week, the profile, the machine file, the entries that count in it, and the version of eventlens. Where the key has
changed the review is made anew, nothing else is. A review and its weekly results are one row, so that neither is ever
newer than the other.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import polars as pl

from eventlens import schema
from eventlens.archive.derive import read_dumps
from eventlens.archive.dumps import Dump, dumps_in, ledger
from eventlens.archive.entries import entries, latest_machine, machine_now
from eventlens.archive.faults import ConflictError
from eventlens.archive.lake import Lake, one_of, quoted
from eventlens.archive.parts import lay_out
from eventlens.archive.period import NoRecordError, review_period
from eventlens.archive.spans import Spans, one_profile, touched_by, weeks_in, zone_of
from eventlens.archive.stated import WORK, counting
from eventlens.archive.tables import RECORD, REVIEWS, WEEKLY, fitted
from eventlens.errors import EventlensError
from eventlens.reading import Log
from eventlens.trends import Weeks, weeks_of

if TYPE_CHECKING:
    from deltalake import DeltaTable

CONTRACT: Final = 1
"""Of the JSON that is stored."""
FORM: Final = 3
"""Of the weekly results beside it: raised where they come to hold something else."""
SILENT: Final = "nothing was recorded"
LISTED: Final = ("machine", "week", "start", "end", "why", "made")
"""Columns that say which reviews there are, without the reviews."""
_KNOWN: Final = ("machine", "week", "key", "why", *WEEKLY)


@cache
def program() -> str:
    """The version whose reviews these are."""
    try:
        return version("eventlens")
    except PackageNotFoundError:  # it runs from a folder and is not installed
        return "unknown"


@dataclass(frozen=True)
class State:
    """What says which reviews are up to date, of one machine or of all, read at once."""

    ledger: pl.DataFrame
    entries: pl.DataFrame
    stored: pl.DataFrame
    """tables.REVIEWS, only _KNOWN: without the reviews themselves."""

    @classmethod
    def of(cls, lake: Lake, machine: str | None = None) -> State:
        """The present state; ArchiveError where there is no archive."""
        rows = ledger(lake, lake.opened(RECORD.name), machine)
        return cls(rows, entries(lake, machine), stored(lake, machine, _KNOWN))

    def machine(self, name: str) -> State:
        """The part of one machine."""
        mine = pl.col("machine") == name
        return State(self.ledger.filter(mine), self.entries.filter(mine), self.stored.filter(mine))

    def works(self) -> dict[str, list[str]]:
        """By machine the ISO weeks, in UTC, of repairs and exchanges: near midnight a neighbouring one, which costs a
        week on one side of the work."""
        done = self.entries.filter(pl.col("kind").is_in(WORK) & pl.col("at").is_not_null()).sort("machine", "at")
        weeks = done.select("machine", week=pl.col("at").dt.strftime("%G-W%V"))
        return dict(weeks.group_by("machine", maintain_order=True).agg("week").iter_rows())


@dataclass(frozen=True)
class Wanted:
    """A review that there should be."""

    period: str
    """Its name, as 2026-W16."""
    start: datetime | None
    end: datetime | None
    dumps: list[Dump]
    key: str


def wanted(state: State, folder: Path, spans: Spans = weeks_in) -> list[Wanted]:
    """The weeks of one machine, or other periods, in which dumps may have records; folder: for profiles."""
    dumps, written = dumps_in(state.ledger), latest_machine(state.entries)
    found = []
    for period, (start, end) in spans(state.ledger, zone_of(dumps, folder)).items():
        if touching := touched_by(dumps, start, end):
            said = [one.id for one in counting(state.entries, start, end)]
            found.append(Wanted(period, start, end, touching, _key(touching, written, said, start, end)))
    return found


def bring_up_to_date(
    lake: Lake, machine: str, folder: Path, tell: Callable[[str], None], state: State | None = None
) -> bool:
    """Makes the reviews of a machine that are missing or rest on something that has changed; whether there were any.

    state: that of the machine, where it has just been read.
    """
    state = state or State.of(lake, machine)
    there = dict(state.stored.select("week", "key").iter_rows())
    every = wanted(state, folder)
    new = [one for one in every if there.get(one.period) != one.key]
    stale = set(there) - {one.period for one in every}
    if not new and not stale:
        return False
    at = lake.made(REVIEWS.name)
    rows = pl.concat([REVIEWS.empty(), *reviewed(lake, machine, state.entries, new, folder, tell)])
    try:
        put(lake, at, rows, {machine: stale})
    except ConflictError:  # somebody else has just made them
        return bring_up_to_date(lake, machine, folder, tell)
    lake.gather(REVIEWS.name, machine)
    return True


def put(
    lake: Lake, at: DeltaTable, rows: pl.DataFrame, stale: Mapping[str, set[str]], table: schema.Table = REVIEWS
) -> None:
    """Stores reviews in the place of those that are there of the same periods, all in one commit from the state `at`.

    rows: of one machine or of several; stale: by machine, periods whose reviews go. ConflictError where another writer
    was quicker with one of these machines.
    """
    period = table.sort[1]
    gone = {machine: set(periods) for machine, periods in stale.items() if periods}
    for machine, name in rows.select("machine", period).iter_rows():
        gone.setdefault(machine, set()).add(name)
    where = [f"(machine = {quoted(name)} AND {one_of(period, sorted(gone[name]))})" for name in sorted(gone)]
    lake.replace(at, " OR ".join(where), rows, *(f"eventlens {table.name} {name}" for name in sorted(gone)))


def reviewed(
    lake: Lake,
    machine: str,
    entries: pl.DataFrame,
    new: Sequence[Wanted],
    folder: Path,
    tell: Callable[[str], None],
    table: schema.Table = REVIEWS,
) -> Iterator[pl.DataFrame]:
    """The reviews of a machine, a row of the table for each; entries: those of the machine."""
    logs, plate = _Logs(lake, folder), machine_now(entries, machine, folder)
    for one in new:
        tell(f"reviewing {machine} {one.period}")
        review, why, weekly = None, None, None
        try:
            one_profile(one.dumps)
            found = review_period(logs.of(one.dumps), plate, one.start, one.end, entries=entries)
            review, weekly = found.to_json(), weeks_of(found) if table is REVIEWS else None
        except NoRecordError:
            why = SILENT
        except EventlensError as fault:
            why = str(fault)
        yield row(machine, one, review, why, weekly, table)


def row(
    machine: str,
    one: Wanted,
    review: str | None,
    why: str | None,
    weekly: Weeks | None = None,
    table: schema.Table = REVIEWS,
) -> pl.DataFrame:
    """A row of stored reviews; why: why there is no review."""
    said = {"machine": machine, table.sort[1]: one.period, "start": one.start, "end": one.end, "key": one.key}
    said |= {"review": review, "why": why, "made": datetime.now(UTC)}
    packed = [] if weekly is None else [_packed(getattr(weekly, name), name) for name in WEEKLY]
    plain = {name: dtype for name, dtype in table.schema.items() if name in said}
    return fitted(pl.DataFrame([said], schema=plain).with_columns(packed), table)


def _packed(frame: pl.DataFrame, name: str) -> pl.Series:
    """A table of weekly results as one cell."""
    cell = frame.select(pl.struct(pl.exclude("machine")).implode().alias(name)).to_series()
    return cell.cast(REVIEWS.schema[name])


def weekly(rows: pl.DataFrame) -> Weeks:
    """The weekly results in tables.REVIEWS; of a week that two of its rows hold parts of, both parts."""
    return Weeks(**{name: _unpacked(rows, name, table) for name, table in WEEKLY.items()})


def _unpacked(rows: pl.DataFrame, name: str, table: schema.Table) -> pl.DataFrame:
    """A table of weekly results from the cells of all rows."""
    cells = rows.select("machine", name).filter(pl.col(name).list.len() > 0)
    frame = cells.explode(name).unnest(name)
    return frame.select(pl.col(column).cast(of.dtype) for column, of in table.columns.items())


def left_out(rows: pl.DataFrame) -> Iterator[str]:
    """Weeks with log that could not be reviewed, a sentence for each machine and reason."""
    failed = rows.filter(pl.col("why").is_not_null() & (pl.col("why") != SILENT))
    for (machine, why), part in failed.group_by("machine", "why", maintain_order=True):
        yield f"{machine} {', '.join(part['week'])}: not reviewed, {why}"


def stored(
    lake: Lake,
    machine: str | Sequence[str] | None = None,
    columns: Sequence[str] = (),
    table: schema.Table = REVIEWS,
) -> pl.DataFrame:
    """The reviews as they stand, of one machine, of several, or of all; columns: only these, those of its sort too."""
    names = [machine] if isinstance(machine, str) else machine
    where = "true" if names is None else one_of("machine", names)
    return lake.read(lake.table(table.name), table, where, columns).sort(table.sort)


def review_of(lake: Lake, machine: str, week: str) -> tuple[str | None, str | None] | None:
    """The stored review of a week as JSON, or why there is none; None where the week is not stored."""
    where = f"machine = {quoted(machine)} AND week = {quoted(week)}"
    rows = lake.read(lake.table(REVIEWS.name), REVIEWS, where, ("review", "why")).rows()
    return rows[0] if rows else None


class _Logs:
    """The log of dumps that were read together last: neighbouring weeks often share them."""

    def __init__(self, lake: Lake, folder: Path) -> None:
        self.lake, self.folder = lake, folder
        self._last: tuple[frozenset[Any], Log] | None = None

    def of(self, dumps: Sequence[Dump]) -> Log:
        key = frozenset(dump.key for dump in dumps)
        if self._last is None or self._last[0] != key:
            lay_out(self.lake, dumps, self.folder)
            self._last = key, read_dumps(dumps, self.folder)
        return self._last[1]


def _key(
    dumps: Sequence[Dump], machine: dict[str, str] | None, said: list[str], start: datetime | None, end: datetime | None
) -> str:
    rests_on = {
        "dumps": sorted([dump.file, dump.name, dump.stated.name, dump.stated.sha256 or ""] for dump in dumps),
        "machine": machine,
        "entries": said,
        "period": [at.isoformat() if at else None for at in (start, end)],
        "version": [program(), CONTRACT, FORM],
    }
    return hashlib.sha256(json.dumps(rests_on, sort_keys=True).encode()).hexdigest()
