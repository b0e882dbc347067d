"""The record's own time axis: it never goes back, even where the controller's clock was set back.

After a clock step the same clock readings may come twice, and how much time passed is unknown. All stages between
reading and review therefore work on record time: within one unbroken clock it is the clock itself, moved as a whole;
between two clocks lies a gap longer than any window that a pattern looks through, so nothing spans it. A log without
a clock step (the usual case) has the same time on both axes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.reading.log import Log

_GAP_US: Final = 40 * 86_400_000_000
"""Longer than any window of any pattern (the longest looks through a month)."""


@dataclass(frozen=True)
class RecordAxis:
    """Moves times between the clock and the record axis; `shifts` holds one row for each unbroken clock."""

    shifts: pl.DataFrame
    """(segment: first segment of the clock, record_start: instant on the record axis, shift_us: record - clock)."""

    @classmethod
    def of(cls, log: Log) -> RecordAxis:
        """The axis of a log: a new clock begins after each segment whose end is a clock step."""
        stepped = log.clock_steps["at"].implode()
        clocks = (
            log.segments.sort("segment")
            .with_columns(
                clock=pl.col("end").is_in(stepped).shift(1, fill_value=False).cast(pl.UInt32).cum_sum(),
            )
            .group_by("clock", maintain_order=True)
            .agg(pl.col("segment").first(), pl.col("start").first(), pl.col("end").last())
            .with_columns(pl.col("start", "end").dt.epoch("us"))
        )
        length = pl.col("end") - pl.col("start")
        begin = (length.shift(1, fill_value=0) + _GAP_US).cum_sum() - _GAP_US + pl.col("start").first()
        return cls(
            clocks.select(
                "segment",
                record_start=begin.cast(schema.TIME),
                shift_us=begin - pl.col("start"),
            )
        )

    @property
    def same(self) -> bool:
        """Whether both axes are the same."""
        return self.shifts.height <= 1

    def to_record(self, frame: pl.DataFrame, *columns: str) -> pl.DataFrame:
        """The frame (with a `segment` column) with its clock times moved to the record axis."""
        if self.same:
            return frame
        at = frame["segment"].to_physical()
        index = self.shifts["segment"].search_sorted(at, side="right") - 1
        moved = self.shifts["shift_us"].gather(index)
        return frame.with_columns(
            (frame[name].dt.epoch("us") + moved).cast(schema.TIME).alias(name) for name in columns
        )

    def to_clock(self, frame: pl.DataFrame, *columns: str) -> pl.DataFrame:
        """The frame with times of the record axis moved back to what the controller's clock showed."""
        if self.same:
            return frame
        # an instant in the gap between two clocks belongs to the nearer one: a window may begin before its clock does
        starts = self.shifts["record_start"].dt.offset_by(f"-{_GAP_US // 2}us")

        def back(name: str) -> pl.Series:
            # an instant before the first record (a window may begin there) belongs to the first clock
            index = (starts.search_sorted(frame[name], side="right").cast(pl.Int64) - 1).clip(0)
            shift = self.shifts["shift_us"].gather(index)
            return (frame[name].dt.epoch("us") - shift).cast(schema.TIME).alias(name)

        return frame.with_columns(back(name) for name in columns if frame.height)
