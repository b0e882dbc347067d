"""Which dumps a period rests on, and in which ISO weeks dumps may have records; both from the ledger alone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl

from eventlens.archive.dumps import Dump
from eventlens.errors import EventlensError


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
