"""The last part of a record, as a log of its own that says of itself what the whole record says of it.

A part begins at a line (`Cut`). It is read as any dump is: the head of its file and the lines from there on. Then it is
given what only the whole record knows (`Facts`): the state of every signal at the cut, as states that were shown and
not as changes that were seen; the line that each of its rows has in the record; log step and rhythm; the signals that
are carried. Whether it then reads as the whole record does is not trusted but tried (`agrees`): stamps that a part
cannot date, an order of day and month that a part leaves open, a dump whose lines are counted in another way.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Final

import numpy as np
import polars as pl

from eventlens import schema
from eventlens.duty.shifts import ShiftPlan
from eventlens.motion import RecordAxis
from eventlens.reading import Log
from eventlens.reading.order import NEWEST_FIRST_NOTE, RING_NOTE

BACK_S: Final = 26 * 3600.0
"""So far a part goes back [s]: a day, which some patterns look back, and two hours."""
MOST_LINES: Final = 50_000
"""... or so many lines, if that is less: a look takes a second or so at most."""
LONGER: Final = 1.5
"""A part that has grown to so many times that begins anew, later."""
PLACES: Final = 5000
"""Places for a cut that are looked at for one at which the machine rests."""
SHOWN_WHOLE: Final = ("samples", "words")
"""Layouts in which a row shows the states of all signals."""
_BLOCK: Final = 1 << 20


@dataclass(frozen=True)
class Facts:
    """What only the whole record knows."""

    step_s: float
    rhythm_s: float | None
    names: pl.DataFrame
    lossy: bool
    plan: ShiftPlan
    still: Mapping[Hashable, pl.DataFrame]
    """What stands still (Context.still), on the record's axis; nothing where the clock was set."""


@dataclass(frozen=True)
class Cut:
    """Where the part begins."""

    piece: int
    """Which file of the record, from 0."""
    row: int
    """Line of the record."""
    offset: int
    """Of that line in its file [bytes]."""
    head: int
    """Bytes of the file before its first data line."""
    shift: int
    """What is added to a line of the part to have that of the record."""
    begin: datetime
    """The last instant before the part, by the clock."""
    standing: pl.DataFrame
    """schema.EVENTS: the last record of each signal before it, at that instant."""


def is_long(log: Log) -> bool:
    """Whether a log is so long that its last part is looked at instead."""
    return log.observed_s > LONGER * BACK_S or _lines(log) > LONGER * MOST_LINES


def _lines(log: Log) -> int:
    return 0 if log.events.is_empty() else int(log.events["row"][-1]) - int(log.events["row"][0])


def cut_in(log: Log, paths: Sequence[Path], firsts: Sequence[tuple[int, int]]) -> Cut | None:
    """Where the last part of a log begins; None where it offers no place.

    The records before the place all stand before those after it, in an unbroken stretch, at an earlier instant; if one
    is near, a place is taken at which fewest signals are on. paths: the files of the record; firsts: of each the line
    of the record and the physical line of its first data line.
    """
    at = _place(log)
    if at is None:
        return None
    events = log.events
    row = int(events["row"][at + 1])
    piece = int(np.searchsorted([first for first, _ in firsts], row, side="right")) - 1
    first_row, first_line = firsts[piece]
    line = row - first_row + first_line
    here = events.head(at + 1).filter(pl.col("segment") == events["segment"][at])
    begin = events["time"][at]
    standing = (
        here.with_row_index("place")
        .group_by("signal", maintain_order=True)
        .last()
        .sort("place")
        .with_columns(time=pl.lit(begin).cast(schema.TIME), segment=pl.lit(0, pl.UInt32))
        .select(schema.EVENTS.columns.keys())
    )
    head = offset_of(paths[piece], first_line)
    offset = offset_of(paths[piece], line, (first_line, head))
    return Cut(piece, row, offset, head, row - first_line, begin, standing)


def _place(log: Log) -> int | None:
    """Position of the last event before the part."""
    events = RecordAxis.of(log).to_record(log.events, "time")
    time, row = events["time"].dt.epoch("us").to_numpy(), events["row"].to_numpy().astype(np.int64)
    segment = events["segment"].to_numpy()
    if len(time) < 2:
        return None
    behind = np.maximum.accumulate(row)[:-1] < np.minimum.accumulate(row[::-1])[::-1][1:]
    fits = behind & (segment[1:] == segment[:-1]) & (time[1:] > time[:-1])
    near = (time[-1] - time[:-1] <= BACK_S * 1e6) & (row[-1] - row[1:] <= MOST_LINES)
    places = np.flatnonzero(fits & near)[:PLACES]
    if not len(places):
        return None
    changes = events.select(pl.col("value").diff().over("signal").fill_null(0.0).clip(-1.0, 1.0)).to_series()
    on = np.cumsum(changes.to_numpy())[places]
    return int(places[np.argmin(on)])


def offset_of(path: Path, line: int, known: tuple[int, int] = (1, 0)) -> int:
    """Where a physical line begins in a file [bytes]. known: a line before it, and where that one begins."""
    missing, offset = line - known[0], known[1]
    with path.open("rb") as file:
        file.seek(offset)
        while missing > 0 and (block := file.read(_BLOCK)):
            ends = np.flatnonzero(np.frombuffer(block, np.uint8) == 10)
            if len(ends) >= missing:
                return offset + int(ends[missing - 1]) + 1
            missing -= len(ends)
            offset += len(block)
    return offset


def lay_out(cut: Cut, paths: Sequence[Path], folder: Path) -> list[Path]:
    """The files of the part: that of the cut with its head and its last lines, and those after it as they are."""
    source = paths[cut.piece]
    target = folder / source.parent.name / source.name
    target.parent.mkdir(parents=True, exist_ok=True)
    with source.open("rb") as whole, target.open("wb") as part:
        part.write(whole.read(cut.head))
        whole.seek(cut.offset)
        shutil.copyfileobj(whole, part, _BLOCK)
    there = source.stat()
    os.utime(target, ns=(there.st_atime_ns, there.st_mtime_ns))
    return [target, *paths[cut.piece + 1 :]]


def grafted(part: Log, cut: Cut, facts: Facts) -> Log | None:
    """The part as a piece of the whole record; None where it was taken for a log of another order."""
    if {RING_NOTE, NEWEST_FIRST_NOTE} & set(part.notes):
        return None
    shifted = (pl.col("row").cast(pl.Int64) + cut.shift).cast(schema.ROW)
    both = (pl.col("rows").list.eval((pl.element().cast(pl.Int64) + cut.shift).cast(schema.ROW))).alias("rows")
    first = pl.col("segment") == 0
    fresh = part.names.join(facts.names, on="name", how="anti")
    return replace(
        part,
        events=pl.concat([cut.standing, _news(part, cut.standing).with_columns(shifted)]),
        segments=part.segments.with_columns(
            start=pl.when(first).then(pl.lit(cut.begin).cast(schema.TIME)).otherwise("start")
        ),
        holes=part.holes.with_columns(both),
        clock_steps=part.clock_steps.with_columns(both),
        rejected=part.rejected.with_columns(shifted),
        names=pl.concat([facts.names, fresh]).sort("name"),
        step_s=facts.step_s,
        rhythm_s=facts.rhythm_s,
    ).check()


def _news(part: Log, standing: pl.DataFrame) -> pl.DataFrame:
    """The events of a part. Where each row shows every signal, the first one only says again what is standing."""
    if part.layout not in SHOWN_WHOLE:
        return part.events
    known = standing.select("signal", stood="value")
    seen = part.events.join(known, on="signal", how="left", maintain_order="left").with_columns(
        again=(pl.int_range(pl.len()).over("signal") == 0) & pl.col("value").eq_missing(pl.col("stood"))
    )
    return seen.filter(~pl.col("again")).select(part.events.columns)


def agrees(part: Log, whole: Log, cut: Cut) -> bool:
    """Whether a grafted part holds the very events that the whole record has from there on."""
    columns = ["time", "signal", "value", "row"]
    ours = part.events.slice(cut.standing.height).select(columns)
    return ours.equals(whole.events.filter(pl.col("row") >= cut.row).select(columns))
