"""Rows on their way into the order of the record, with their stamps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import polars as pl

from eventlens.reading import clock, order
from eventlens.reading.clocks.stamps import Stamps
from eventlens.reading.coded import is_coded

LINE: Final = "_line"
"""Name of the column that carries the line of the log while rows are moved."""


@dataclass(frozen=True)
class Rows:
    """Rows as they stand: raw columns and LINE, their stamps by the writer's clock, and in UTC once that is known."""

    frame: pl.DataFrame
    stamps: Stamps
    utc: pl.Series
    """Int64 microseconds."""
    notes: tuple[str, ...] = ()

    def keep(self, mask: pl.Series) -> Rows:
        """Only the rows for which the mask holds."""
        return replace(self, frame=self.frame.filter(mask), stamps=self.stamps.filter(mask), utc=self.utc.filter(mask))

    def turned_round(self) -> Rows:
        """Last row first; the time in UTC is not known any more."""
        return replace(self, frame=self.frame.reverse(), stamps=self.stamps.reverse(), utc=self.utc.reverse())

    def rotated(self, first: int) -> Rows:
        """The rows from `first` on, then those before it."""
        frame = pl.concat([self.frame.slice(first), self.frame.head(first)])
        return replace(self, frame=frame, utc=self.utc.slice(first).append(self.utc.head(first)))


def arrange(rows: Rows, zone: str, late_us: int, time_columns: Sequence[str]) -> Rows:
    """Turns a record that is newest first round, and a ring buffer to its oldest row."""
    if rows.utc.is_sorted():
        return rows
    notes = list(rows.notes)
    breaks = rows.stamps.breaks
    broken = breaks is not None and bool(breaks.any())
    if order.newest_first(rows.utc, breaks):
        notes.append(order.NEWEST_FIRST_NOTE)
        rows = rows.turned_round()
        # the hour that is repeated in autumn is told by the order of the rows, which is another one now
        utc, _, _ = clock.to_utc(rows.stamps, zone, late_us)
        rows = replace(rows, utc=utc)
    frame = rows.frame.drop(LINE, *time_columns)
    first = 0 if broken else order.ring_start(rows.utc, late_us, lambda: has_counter(frame))
    if first:
        notes.append(order.RING_NOTE)
        rows = rows.rotated(first)
    return replace(rows, notes=tuple(notes))


def in_time(rows: Rows) -> Rows:
    """The rows of several files that cover the same time, merged by time; equal stamps keep the order of the files."""
    at = rows.utc.arg_sort()
    return replace(rows, frame=rows.frame[at], stamps=rows.stamps.gather(at), utc=rows.utc.gather(at))


def has_counter(frame: pl.DataFrame) -> bool:
    """Whether a column counts the rows one by one through the whole record, from a number above 1.

    A counter from 0 or 1 may be the number of the slot, which proves nothing.
    """
    for column in frame.iter_columns():
        if is_coded(column):  # its texts come again and again
            continue
        count = column.cast(pl.Int64, strict=False)
        if not count.null_count() and int(count[0]) > 1 and bool((count.diff().drop_nulls() == 1).all()):
            return True
    return False
