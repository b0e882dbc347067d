"""What reading hands on: the events of one machine, and everything known about the record itself."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from eventlens import schema


@dataclass(frozen=True)
class SourceFile:
    """One file that was read, with its accounting: rows = taken + rejected + blank."""

    name: str
    sha256: str
    rows: int
    """Data rows: everything but preamble, header, units row."""
    taken: int
    """Rows that were understood (they gave zero or more events)."""
    rejected: int
    blank: int
    events: int
    first_row: int
    """Number in the log of this file's first data line; single file: its physical line."""
    first_line: int
    """Physical line in this file of its first data line, from 1."""
    repeated: int = 0
    """Of the rows taken: those that another file of the dump holds as well; they count once in the log."""


@dataclass(frozen=True)
class Log:
    """The record of one machine."""

    events: pl.DataFrame
    """schema.EVENTS, in the order of the record."""
    segments: pl.DataFrame
    """schema.SEGMENTS: stretches without hole or clock step. State is unknown between them."""
    holes: pl.DataFrame
    """schema.HOLES."""
    clock_steps: pl.DataFrame
    """schema.CLOCK_STEPS."""
    names: pl.DataFrame
    """schema.NAMES."""
    rejected: pl.DataFrame
    """schema.REJECTED, complete."""
    files: tuple[SourceFile, ...]
    layout: str
    profile: str | None
    """Name of the profile file, if one was given."""
    timezone: str
    """Zone in which stamps without an offset were read, and in which times are shown."""
    step_s: float
    """Log step [s]: the grid on which stamps lie; two of them bound the error of a difference of two stamps."""
    rhythm_s: float | None
    """Period of the record's own rhythm [s] (sample cycle or heartbeat); None: silence proves nothing."""
    duplicates: int
    """Rows that repeat another row entirely (same stamp, name and value); kept as rows, without effect on states."""
    reordered: int
    """Rows that had to be moved to be in the order of time."""
    overlap: int = 0
    """Rows that two files of the dump both hold (exports that repeat the tail of the one before); taken once."""
    commands_from: str | None = None
    """Where commands are read: 'input' of the controller, 'order' to the contactors; None: nobody said."""
    notes: tuple[str, ...] = ()
    """Decisions that reading made (order of day and month, encoding, zone, reversed file), one sentence each."""

    @property
    def start(self) -> datetime:
        """First record."""
        return self.segments["start"][0]  # type: ignore[no-any-return]

    @property
    def end(self) -> datetime:
        """Last record."""
        return self.segments["end"][-1]  # type: ignore[no-any-return]

    @property
    def observed_s(self) -> float:
        """Observed time [s]: from first to last record without holes and clock steps."""
        spans = self.segments["end"] - self.segments["start"]
        return float(spans.dt.total_microseconds().sum()) / 1e6

    @property
    def uncertainty_s(self) -> float:
        """Bound of the error of a difference of two stamps [s]: two log steps (common practice)."""
        return 2 * self.step_s

    def signals(self) -> set[str]:
        """The mapped signals that the log carries."""
        return set(self.names.filter(pl.col("rows") > 0)["signal"].drop_nulls().cast(pl.String).to_list())

    def check(self) -> Log:
        """The log itself if all its tables are as written in schema."""
        for table, frame in (
            (schema.EVENTS, self.events),
            (schema.SEGMENTS, self.segments),
            (schema.HOLES, self.holes),
            (schema.CLOCK_STEPS, self.clock_steps),
            (schema.NAMES, self.names),
            (schema.REJECTED, self.rejected),
        ):
            table.check(frame)
        return self


def names_of(events: pl.DataFrame) -> pl.DataFrame:
    """schema.NAMES of events (schema.EVENTS) that carry the signals' own names, as a log written by hand does."""
    counted = events.group_by("signal").agg(rows=pl.len().cast(pl.UInt32)).sort("signal")
    none = pl.lit(0, pl.UInt32)
    return counted.select(
        name=pl.col("signal").cast(pl.String),
        signal="signal",
        rows="rows",
        edges=none,
        repeated=none,
        mapped_by=pl.lit("name"),
    ).sort("name")
