"""The tables of an archive as people and other programs ask for them; only what is asked for is read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from typing import Final

import polars as pl

from eventlens.archive import weeks
from eventlens.archive.dumps import ledger
from eventlens.archive.entries import entries
from eventlens.archive.lake import Lake, quoted
from eventlens.archive.tables import ENTRIES, EVENT, PERIODS, RECORD, REVIEWS, SET_ASIDE, WEEKLY
from eventlens.schema import WEEK_LIFE, WEEK_TIMES, WEEK_WORK, WEEKS

_NO_LEDGER: Final = ("kind", "line", "place", "time", "signal", "value", "segment", "reason", "text")
COLUMNS: Final = {
    "events": ("machine", "time", "signal", "value", "name", "line", "file"),
    "set_aside": ("machine", "month", "name", "line", "reason", "text", "file"),
    "imports": tuple(name for name in RECORD.columns if name not in _NO_LEDGER),
    "entries": tuple(ENTRIES.columns),
    "reviews": tuple(name for name in REVIEWS.columns if name not in WEEKLY),
    "periods": tuple(PERIODS.columns),
    "weeks": tuple(WEEKS.columns),
    "week_times": tuple(WEEK_TIMES.columns),
    "week_life": tuple(WEEK_LIFE.columns),
    "week_work": tuple(WEEK_WORK.columns),
}
"""The tables that can be exported, and their columns."""


def empty(table: str) -> pl.DataFrame:
    """A table without rows."""
    of = {"entries": ENTRIES, "reviews": REVIEWS, "periods": PERIODS, "weeks": WEEKS}
    of |= {"week_times": WEEK_TIMES, "week_life": WEEK_LIFE, "week_work": WEEK_WORK}
    types = of.get(table, RECORD).schema
    return pl.DataFrame(schema={name: types[name] for name in COLUMNS[table]})


def imports(lake: Lake, machine: str | None) -> pl.DataFrame:
    """The ledger: a row for each dump and month."""
    return ledger(lake, lake.table(RECORD.name), machine).select(COLUMNS["imports"])


def events(lake: Lake, machine: str, start: datetime | None, end: datetime | None) -> pl.DataFrame:
    """The events in [start, end), in the order of the record; months outside are not touched."""
    where = [f"kind = {quoted(EVENT)}", f"machine = {quoted(machine)}"]
    if start is not None:
        where += [f"month >= '{_month(start)}'", f"time >= TIMESTAMP '{_stamp(start)}'"]
    if end is not None:
        where += [f"month <= '{_month(end)}'", f"time < TIMESTAMP '{_stamp(end)}'"]
    wanted = COLUMNS["events"]
    rows = lake.read(lake.opened(RECORD.name), RECORD, " AND ".join(where), (*wanted, "month", "place"))
    return rows.sort("month", "place").select(wanted)


def set_aside(lake: Lake, machine: str) -> pl.DataFrame:
    """The rows that were not understood."""
    where = f"kind = {quoted(SET_ASIDE)} AND machine = {quoted(machine)}"
    rows = lake.read(lake.opened(RECORD.name), RECORD, where)
    return rows.sort("month", "name", "line").select(COLUMNS["set_aside"])


def parts(
    lake: Lake, table: str, machines: Sequence[str], start: datetime | None, end: datetime | None
) -> Iterator[pl.DataFrame]:
    """A table machine by machine, events month by month, so that none need be held whole."""
    for machine in machines:
        if table == "events":
            for begin, stop in _months(imports(lake, machine)["month"], start, end):
                yield events(lake, machine, begin, stop)
        elif table == "set_aside":
            yield set_aside(lake, machine)
        elif table == "imports":
            yield imports(lake, machine)
        elif table == "entries":
            yield entries(lake, machine)
        elif table == "reviews":
            yield weeks.stored(lake, machine, COLUMNS[table])
        elif table == "periods":
            yield weeks.stored(lake, machine, COLUMNS[table], PERIODS)
        else:
            found = weeks.weekly(weeks.stored(lake, machine, ("machine", "week", *WEEKLY)))
            weekly = {"weeks": found.counts, "week_times": found.times, "week_life": found.life}
            yield (weekly | {"week_work": found.work})[table]


def _months(
    known: pl.Series, start: datetime | None, end: datetime | None
) -> Iterator[tuple[datetime | None, datetime | None]]:
    """The parts of a period in each of the months."""
    for month in known.unique().sort():
        first = datetime.strptime(month, "%Y-%m").replace(tzinfo=UTC)
        after = first.replace(year=first.year + first.month // 12, month=first.month % 12 + 1)
        begin, stop = max(first, start or first), min(after, end or after)
        if begin < stop:
            yield begin, stop


def _month(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m")


def _stamp(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
