"""What is known of a record beside its stamps: what the profile states, and what its files' names and dates say."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.reading.profile import LogKeys

_DATE_IN_NAME: Final = re.compile(r"(?<!\d)(\d{4})[-_.]?(\d\d)[-_.]?(\d\d)(?!\d{3,7}(?!\d))")
_UNIX: Final = date(1970, 1, 1)


@dataclass(frozen=True)
class Piece:
    """One file of the record."""

    rows: int
    named: date | None
    """The date in the file's name."""
    modified: datetime | None
    """When the file was last written, UTC."""


@dataclass(frozen=True)
class Origin:
    """What is known beside the cells of a column. `Origin()` knows nothing."""

    epoch: date | None = None
    """First day of the count, where the profile states it."""
    start: datetime | None = None
    """Instant of the record's first row (profile); local time where it has no offset."""
    year: int | None = None
    """Year of the record's first row (profile)."""
    day: date | None = None
    """Date of the record's first row (profile)."""
    zone: str | None = None
    """Zone of stamps that carry no offset (profile)."""
    pieces: tuple[Piece, ...] = ()
    lines: pl.Series | None = None

    @staticmethod
    def of(keys: LogKeys, files: Sequence[tuple[Path, int]], lines: pl.Series | None = None) -> Origin:
        """From the profile and the files with the number of rows of each, in their order."""
        pieces = tuple(Piece(rows, date_in_name(path), _modified(path)) for path, rows in files)
        return Origin(keys.epoch, keys.start, keys.year, keys.date, keys.timezone, pieces, lines)

    @property
    def written(self) -> datetime | None:
        """When the last of the files was written; nothing in the record is later."""
        return max((piece.modified for piece in self.pieces if piece.modified), default=None)


def date_in_name(path: Path) -> date | None:
    """The date in a file's name (20240501, 2024-05-01, 2024_05_01), or None where none or several are in it."""
    found = set()
    for year, month, day in _DATE_IN_NAME.findall(path.name):
        try:
            found.add(date(int(year), int(month), int(day)))
        except ValueError:
            continue
    plausible = {day for day in found if 1980 <= day.year <= 2100}
    return plausible.pop() if len(plausible) == 1 else None


def _modified(path: Path) -> datetime | None:
    try:
        return datetime.fromtimestamp(os.stat(path).st_mtime, UTC)
    except OSError:
        return None


def days_since_1970(day: date) -> int:
    """Days from 1970-01-01, negative before."""
    return (day - _UNIX).days


def micros(instant: datetime) -> int:
    """Microseconds since 1970: in UTC where the instant has an offset, else by its own clock."""
    naive = instant.astimezone(UTC).replace(tzinfo=None) if instant.tzinfo else instant
    delta = naive - datetime(1970, 1, 1)
    return (delta.days * 86_400 + delta.seconds) * 1_000_000 + delta.microseconds
