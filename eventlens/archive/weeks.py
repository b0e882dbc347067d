"""Stored reviews: one for each machine and ISO week, made anew only where something that it rests on has changed.

A week begins on Monday at 00:00 in the zone of the log. What a review rests on is its key: the dumps with records in
the week, the profile, the machine file, and the version of eventlens.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

import polars as pl

from eventlens.archive.derive import read_dumps
from eventlens.archive.dumps import Dump, dumps_in, lay_out, ledger
from eventlens.archive.entries import latest_machine, machine_now
from eventlens.archive.lake import ConflictError, Lake, one_of, quoted
from eventlens.archive.period import NoRecordError, review_period
from eventlens.archive.tables import RECORD, REVIEWS
from eventlens.errors import EventlensError
from eventlens.reading import Log

CONTRACT: Final = 1
"""Of the JSON that is stored."""


@cache
def program() -> str:
    """The version whose reviews these are."""
    try:
        return version("eventlens")
    except PackageNotFoundError:  # it runs from a folder and is not installed
        return "unknown"


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


def bring_up_to_date(lake: Lake, machine: str, folder: Path, tell: Callable[[str], None]) -> int:
    """Makes the reviews of a machine that are missing or rest on something that has changed; how many."""
    rows = ledger(lake, lake.opened(RECORD.name), machine)
    plate, written = machine_now(lake, machine, folder), latest_machine(lake, machine)
    at = lake.made(REVIEWS.name)
    there = dict(lake.read(at, REVIEWS, f"machine = {quoted(machine)}").select("week", "key").iter_rows())
    logs, made, current = _Logs(lake, folder), [], set()
    dumps = dumps_in(rows)
    for week, (start, end) in weeks_in(rows, zone_of(dumps, folder)).items():
        touching = touched_by(dumps, start, end)
        key = _key(touching, written, start, end)
        if not touching:
            continue
        current.add(week)
        if there.get(week) == key:
            continue
        tell(f"reviewing {machine} {week}")
        review, why = None, None
        try:
            one_profile(touching)
            review = review_period(logs.of(touching), plate, start, end).to_json()
        except NoRecordError:
            why = "nothing was recorded"
        except EventlensError as fault:
            why = str(fault)
        made.append(
            {"machine": machine, "week": week, "start": start, "end": end, "key": key, "review": review, "why": why}
        )
    stale = set(there) - current
    if made or stale:
        frame = pl.DataFrame(made, schema=REVIEWS.schema).with_columns(
            made=pl.lit(datetime.now(UTC)).cast(REVIEWS.schema["made"])
        )
        where = f"machine = {quoted(machine)} AND {one_of('week', sorted(stale.union(frame['week'])))}"
        try:
            lake.replace(at, where, frame, f"eventlens reviews {machine}")
        except ConflictError:  # somebody else has just made them
            return bring_up_to_date(lake, machine, folder, tell)
    return len(made)


def stored(lake: Lake, machine: str | None = None) -> pl.DataFrame:
    """tables.REVIEWS as they stand."""
    where = "true" if machine is None else f"machine = {quoted(machine)}"
    return lake.read(lake.table(REVIEWS.name), REVIEWS, where).sort("machine", "week")


def zone_of(dumps: Sequence[Dump], folder: Path) -> str:
    """The zone in which a machine's log shows its times: that of the profile added last, UTC where none is stated."""
    if not dumps:
        return "UTC"
    return max(dumps, key=lambda dump: (dump.added, dump.file)).stated.profile(folder).log.timezone or "UTC"


def touched_by(dumps: Sequence[Dump], start: datetime | None, end: datetime | None) -> list[Dump]:
    """The dumps that have records in a period, or before and after it; not one that ends as the period begins."""
    return [
        dump
        for dump in dumps
        if dump.first is not None
        and dump.last is not None
        and (end is None or dump.first < end)
        and (start is None or dump.last > start)
    ]


def one_profile(dumps: Sequence[Dump]) -> None:
    """EventlensError where dumps were added with different profiles: no log can be read from them together."""
    names = {dump.stated: dump.stated.name or "none" for dump in dumps}
    if len(names) > 1:
        raise EventlensError(
            "dumps of the period that were added with one profile",
            f"{len(names)}: {', '.join(sorted(names.values()))}",
            "choose a shorter period, or add the older dumps again with the newer profile",
        )


def weeks_in(rows: pl.DataFrame, timezone: str) -> dict[str, tuple[datetime, datetime]]:
    """The ISO weeks in which dumps may have records, from the ledger: first instant, and that after the last."""
    zone = ZoneInfo(timezone)
    mondays: set[date] = set()
    for month, first, last in rows.select("month", "first", "last").unique().iter_rows():
        begin = datetime.strptime(month, "%Y-%m").replace(tzinfo=UTC)
        # a month's events lie in it, whatever a clock that was not set shows at the ends of the dump
        low = max(first, begin).astimezone(zone).date()
        high = min(last, begin + timedelta(days=32)).astimezone(zone).date()
        monday = low - timedelta(days=low.weekday())
        while monday <= high:
            mondays.add(monday)
            monday += timedelta(days=7)
    return {
        f"{day:%G-W%V}": (_midnight(day, zone), _midnight(day + timedelta(days=7), zone)) for day in sorted(mondays)
    }


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone).astimezone(UTC)


def _key(dumps: Sequence[Dump], machine: dict[str, str] | None, start: datetime, end: datetime) -> str:
    said = {
        "dumps": sorted([dump.file, dump.name, dump.stated.name, dump.stated.sha256 or ""] for dump in dumps),
        "machine": machine,
        "period": [start.isoformat(), end.isoformat()],
        "version": [program(), CONTRACT],
    }
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()
