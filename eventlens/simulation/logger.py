"""The logger: samples the signals at its own step, writes what changed, and a sign of life; off in its holes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Final

import numpy as np
import polars as pl

from eventlens import schema, signals
from eventlens.reading.log import Log, SourceFile

HEARTBEAT: Final = "heartbeat"
"""Name of the logger's sign of life, which no signal carries."""

Tracks = Mapping[str, Sequence[tuple[float, float]]]
"""Signal -> its changes (instant [s], value), the first one at the beginning."""


@dataclass(frozen=True)
class Recording:
    """What the logger wrote: `records` has time (microseconds, UTC), name, value and segment, in the order written."""

    records: pl.DataFrame
    step_s: float
    heartbeat_s: float
    carried: tuple[str, ...]
    """Signals that the logger carries, in its own order."""

    @property
    def events(self) -> pl.DataFrame:
        """schema.EVENTS: the records without the signs of life; `row` counts all records from 1."""
        return (
            self.records.with_row_index("row", offset=1)
            .filter(pl.col("name") != HEARTBEAT)
            .select(
                "time",
                pl.col("name").cast(schema.SIGNAL).alias("signal"),
                "value",
                pl.col("row").cast(schema.ROW),
                "segment",
            )
        )

    @property
    def segments(self) -> pl.DataFrame:
        """schema.SEGMENTS."""
        return self.records.group_by("segment", maintain_order=True).agg(
            start=pl.col("time").min(), end=pl.col("time").max(), rows=pl.len().cast(pl.UInt32)
        )

    @property
    def holes(self) -> list[tuple[datetime, datetime]]:
        """Last record before and first record after each stretch in which the logger was off."""
        segments = self.segments
        return list(zip(segments["end"][:-1].to_list(), segments["start"][1:].to_list(), strict=True))


def record(
    tracks: Tracks,
    carried: Sequence[str],
    start: datetime,
    length_s: float,
    *,
    step_s: float,
    heartbeat_s: float,
    off: Sequence[tuple[float, float]] = (),
    frozen: Mapping[str, float] = MappingProxyType({}),
) -> Recording:
    """Write the log of some signals over a length [s].

    At each multiple of `step_s` [s] the logger compares every signal with what it last wrote and writes what differs;
    what comes and goes between two steps is not seen. When it starts, and after each hole, it writes the state of
    all signals. `frozen`: signals whose input keeps its last state from an instant [s] on. Its sign of life comes every
    `heartbeat_s` [s]. Records of one instant stand in the order of `carried`.
    """
    last = int(length_s / step_s)
    alive = _stretches(off, last, step_s)
    parts = [_beats(alive, heartbeat_s, step_s, len(carried))]
    for place, signal in enumerate(carried):
        seen = [change for change in tracks[signal] if change[0] <= frozen.get(signal, math.inf)]
        parts.append(_changes(seen, alive, step_s, place))
    table = pl.concat(parts).sort("tick", "place", maintain_order=True)
    names = pl.Series(values=[*carried, HEARTBEAT])
    micro = round(step_s * 1e6)
    records = table.select(
        time=(pl.lit(start).cast(schema.TIME) + pl.duration(microseconds=pl.col("tick") * micro)),
        name=names.gather(table["place"]),
        value="value",
        segment=pl.col("segment").cast(pl.UInt32),
    )
    return Recording(records, step_s, heartbeat_s, tuple(carried))


def _stretches(off: Sequence[tuple[float, float]], last: int, step_s: float) -> list[tuple[int, int]]:
    """Steps from and to which the logger is on, both included."""
    stretches, begin = [], 0
    for gone, back in sorted(off):
        end = min(int(gone / step_s), last)
        if end > begin:
            stretches.append((begin, end))
        begin = int(back / step_s) + 1
    if begin <= last:
        stretches.append((begin, last))
    return stretches


def _part(ticks: np.ndarray, values: np.ndarray, segments: np.ndarray, place: int) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "tick": ticks.astype(np.int64),
            "place": np.full(len(ticks), place, dtype=np.int64),
            "value": values.astype(np.float64),
            "segment": segments.astype(np.int64),
        }
    )


def _beats(alive: list[tuple[int, int]], heartbeat_s: float, step_s: float, place: int) -> pl.DataFrame:
    every = max(1, round(heartbeat_s / step_s))
    beats = [np.arange(-(-begin // every) * every, end + 1, every) for begin, end in alive]
    numbers = [np.full(len(part), number) for number, part in enumerate(beats)]
    ticks = np.concatenate(beats)
    return _part(ticks, np.ones(len(ticks)), np.concatenate(numbers), place)


def _changes(
    track: Sequence[tuple[float, float]], alive: list[tuple[int, int]], step_s: float, place: int
) -> pl.DataFrame:
    pairs = np.array(track, dtype=np.float64)
    seen = np.ceil(pairs[:, 0] / step_s - 1e-6).astype(np.int64)
    final = np.append(seen[1:] != seen[:-1], True)  # the last change of a step is what the sample shows
    seen, values = seen[final], pairs[final, 1]
    ticks, found, numbers = [], [], []
    for number, (begin, end) in enumerate(alive):
        first = int(np.searchsorted(seen, begin, side="right")) - 1
        stop = int(np.searchsorted(seen, end, side="right"))
        inside, level = np.maximum(seen[first:stop], begin), values[first:stop]
        differs = np.append(True, level[1:] != level[:-1])
        ticks.append(inside[differs])
        found.append(level[differs])
        numbers.append(np.full(int(differs.sum()), number))
    return _part(np.concatenate(ticks), np.concatenate(found), np.concatenate(numbers), place)


def as_log(recording: Recording) -> Log:
    """The recording as reading would hand it on, with nothing rejected and no fault of the clock."""
    records, events, segments = recording.records, recording.events, recording.segments
    return Log(
        events=schema.EVENTS.check(events),
        segments=schema.SEGMENTS.check(segments),
        holes=_holes(records),
        clock_steps=schema.CLOCK_STEPS.empty(),
        names=_names(records),
        rejected=schema.REJECTED.empty(),
        files=(SourceFile("simulation", "", records.height, records.height, 0, 0, events.height, 1, 1),),
        layout="changes",
        profile=None,
        timezone="UTC",
        step_s=recording.step_s,
        rhythm_s=recording.heartbeat_s,
        duplicates=0,
        reordered=0,
    ).check()


def _holes(records: pl.DataFrame) -> pl.DataFrame:
    numbered = records.with_row_index("row", offset=1)
    after = pl.col("segment").shift(-1) != pl.col("segment")
    return (
        numbered.with_columns(next=pl.col("time").shift(-1), after=after)
        .filter(pl.col("after").fill_null(False))
        .select(
            start="time",
            end="next",
            why=pl.lit("silence"),
            rows=pl.concat_list(pl.col("row").cast(schema.ROW), (pl.col("row") + 1).cast(schema.ROW)),
            limit_s=pl.lit(None, pl.Float64),
        )
    )


def _names(records: pl.DataFrame) -> pl.DataFrame:
    changed = pl.col("value").diff().over("name")
    counted = (
        records.with_columns(changed=changed)
        .group_by("name")
        .agg(
            rows=pl.len().cast(pl.UInt32),
            edges=(pl.col("changed").fill_null(0.0) != 0.0).sum().cast(pl.UInt32),
            repeated=((pl.col("changed") == 0.0) & (pl.col("name") != HEARTBEAT)).sum().cast(pl.UInt32),
        )
        .sort("name")
    )
    mapped = pl.col("name").is_in(list(signals.ALL))
    return counted.select(
        "name",
        signal=pl.when(mapped).then(pl.col("name")).cast(schema.SIGNAL),
        rows="rows",
        edges="edges",
        repeated="repeated",
        mapped_by=pl.when(mapped).then(pl.lit("profile")).otherwise(pl.lit("unmapped")),
    )
