"""Which dumps a period rests on, and in which weeks or months dumps may have records; all from the ledger alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TypeAlias
from zoneinfo import ZoneInfo

import polars as pl

from eventlens.archive.dumps import Dump
from eventlens.errors import EventlensError

Span: TypeAlias = tuple[datetime | None, datetime | None]
"""First instant, and that after the last; None: there is no bound."""
Spans: TypeAlias = Callable[[pl.DataFrame, str], dict[str, Span]]
"""The periods of a machine by their names, from its rows of the ledger and the zone of its log."""


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


def weeks_in(rows: pl.DataFrame, timezone: str) -> dict[str, Span]:
    """The ISO weeks in which dumps may have records, from the ledger: first instant, and that after the last."""
    zone = ZoneInfo(timezone)
    mondays: set[date] = set()
    for low, high in _days(rows, zone):
        monday = low - timedelta(days=low.weekday())
        while monday <= high:
            mondays.add(monday)
            monday += timedelta(days=7)
    return {
        f"{day:%G-W%V}": (_midnight(day, zone), _midnight(day + timedelta(days=7), zone)) for day in sorted(mondays)
    }


def months_in(rows: pl.DataFrame, timezone: str) -> dict[str, Span]:
    """The calendar months, in the zone of the log, in which dumps may have records; as weeks_in."""
    zone = ZoneInfo(timezone)
    firsts: set[date] = set()
    for low, high in _days(rows, zone):
        first = low.replace(day=1)
        while first <= high:
            firsts.add(first)
            first = _next_month(first)
    return {f"{day:%Y-%m}": (_midnight(day, zone), _midnight(_next_month(day), zone)) for day in sorted(firsts)}


def _days(rows: pl.DataFrame, zone: ZoneInfo) -> Iterator[tuple[date, date]]:
    """First and last day of what a dump has in a month."""
    for month, first, last in rows.select("month", "first", "last").unique().iter_rows():
        begin = datetime.strptime(month, "%Y-%m").replace(tzinfo=UTC)
        # a month's events lie in it, whatever a clock that was not set shows at the ends of the dump
        low = max(first, begin).astimezone(zone).date()
        yield low, min(last, begin + timedelta(days=32)).astimezone(zone).date()


def _next_month(day: date) -> date:
    return (day.replace(day=1) + timedelta(days=32)).replace(day=1)


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone).astimezone(UTC)
