"""The lanes: what every signal did in a window, in bins or exactly."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from dashboards import bins, words
from dashboards.tables import Lane, LaneBins, LanesView, Measure, Window
from dashboards.wallclock import INSTANT, WallClock, whole

EXACT_MOST: Final = 1_000
"""Intervals in view up to which they are drawn exactly; more of them make a browser slow (measured)."""


@dataclass(frozen=True)
class Record:
    """What the lanes are drawn from. Instants are microseconds in UTC."""

    states: pl.DataFrame
    """(signal, on, start, end, start_seen, end_seen, start_row, end_row): known states, in any order."""
    events: pl.DataFrame
    """(time, signal, value, segment): records of measured signals, by segment and time."""
    segments: pl.DataFrame
    """(segment, end): unbroken stretches of the log; a value holds no longer than its stretch."""
    steps: pl.Series
    """Instants at which the log's clock was set."""
    order: tuple[str, ...]
    """All signal names, in the order of the lanes."""
    rated_load_kg: float | None


@dataclass(frozen=True)
class _Rows:
    """Where the states of one signal lie in the table, found without a look at every one of them."""

    first: int
    start: bins.Whole
    reach: bins.Whole
    """Latest end so far [us]: of a clock that was set back the intervals overlap."""

    @classmethod
    def of(cls, first: int, start: bins.Whole, end: bins.Whole) -> _Rows:
        """The rows from `first` on, by start."""
        return cls(first, start, np.maximum.accumulate(np.maximum(end, start + 1)))

    def inside(self, start: int, end: int) -> tuple[int, int]:
        """First row, and the one after the last, of those that may lie in a window [us]."""
        first = int(np.searchsorted(self.reach, start, "right"))
        return self.first + first, self.first + max(first, int(np.searchsorted(self.start, end, "left")))


def _in_order(states: pl.DataFrame) -> pl.DataFrame:
    """The states by signal and start: as they are, unless a clock that was set back has brought them out of order."""
    here, start = pl.col("signal"), pl.col("start")
    back = states.select(((here == here.shift()) & (start < start.shift())).any()).item()
    apart = states["signal"].rle_id().n_unique() != states["signal"].n_unique()
    return states.sort("signal", "start", maintain_order=True) if back or apart else states


class Lanes:
    """Every signal of one log."""

    def __init__(self, record: Record, clock: WallClock, named: Callable[[str], Lane] | None = None) -> None:
        """named: the lane of a signal, where it is not one of eventlens' own."""
        self.record, self.clock = record, clock
        self._states = _in_order(record.states)
        start, end, on = whole(self._states["start"]), whole(self._states["end"]), self._states["on"].to_numpy()
        self._tracks: dict[str, bins.Track] = {}
        self._spans: dict[str, _Rows] = {}
        row = 0
        for signal, count in self._states.group_by("signal", maintain_order=True).len().iter_rows():
            own = slice(row, row + count)
            self._tracks[signal] = bins.Track.of(start[own], end[own], on[own])
            self._spans[signal] = _Rows.of(row, start[own], end[own])
            row += count
        self.lanes = tuple((named or _lane)(name) for name in record.order if name in self._tracks)
        held = {str(signal): self._held(part) for (signal,), part in record.events.group_by("signal")}
        self._measures = {name: held[name] for name in record.order if name in held and len(held[name][0])}

    def view(self, window: Window, count: int) -> LanesView:
        """What the lanes show of a window in `count` bins, or exactly where few enough intervals are in view."""
        start, end = self.clock.instant(window[0]), self.clock.instant(window[1])
        count = max(1, min(count, end - start))
        borders = bins.edges(start, end, count)
        spans = [self._spans[lane.signal].inside(start, end) for lane in self.lanes]
        exact = sum(after - first for first, after in spans) <= EXACT_MOST
        binned = None if exact else self._lane_bins(borders)
        return LanesView(
            lanes=self.lanes,
            window=window,
            bins=count,
            binned=binned,
            intervals=self._intervals(self._inside(spans, start, end)) if exact else None,
            unknown=self._unknown(binned, borders),
            measures=tuple(self._measure(name, borders) for name in self._measures),
            clock=self.clock.name,
            steps=tuple(self.clock.axis(whole(self.record.steps))),
        )

    def _inside(self, spans: Sequence[tuple[int, int]], start: int, end: int) -> pl.DataFrame:
        """The states of some rows that lie in a window [us], if only for a moment."""
        found = pl.concat([self._states.clear(), *(self._states.slice(first, after - first) for first, after in spans)])
        # a pulse that starts and ends on one stamp lasts one microsecond, as in bins
        lasts_to = pl.max_horizontal(pl.col("end"), pl.col("start") + pl.duration(microseconds=1))
        return found.filter((lasts_to > pl.lit(start).cast(INSTANT)) & (pl.col("start") < pl.lit(end).cast(INSTANT)))

    def _lane_bins(self, borders: bins.Whole) -> LaneBins:
        found = [bins.binned(self._tracks[lane.signal], borders) for lane in self.lanes]
        return LaneBins(
            code=np.stack([one.code for one in found]),
            on_s=np.stack([one.on_us / 1e6 for one in found]).astype(np.float32),
            times=np.stack([one.times for one in found]),
            known=np.stack([one.unknown_us for one in found]) < np.diff(borders),
        )

    def _intervals(self, inside: pl.DataFrame) -> pl.DataFrame:
        place = pl.Enum([lane.signal for lane in self.lanes])
        texts = inside.with_columns(
            begin=self.clock.texts(inside["start"]), until=self.clock.texts(inside["end"])
        ).with_columns(
            begin=pl.when("start_seen").then("begin").otherwise(pl.col("begin") + pl.lit(" or before")),
            until=pl.when("end_seen").then("until").otherwise(pl.col("until") + pl.lit(" or later")),
        )
        span = (pl.col("end") - pl.col("start")).dt.total_microseconds()
        seconds = (inside["end"] - inside["start"]).dt.total_microseconds() / 1e6
        return texts.select(
            pl.col("signal").cast(pl.String).cast(place).to_physical().cast(pl.Int64).alias("lane"),
            "on",
            pl.Series("at", self.clock.axis(whole(inside["start"]))),
            (span / 1000).alias("length"),
            "begin",
            "until",
            pl.Series("lasts", [words.length(one) for one in seconds], pl.String),
            pl.format("{}, {}", "start_row", "end_row").alias("lines"),
        )

    def _unknown(self, binned: LaneBins | None, borders: bins.Whole) -> pl.DataFrame:
        parts = [_no_gaps()]
        for n, lane in enumerate(self.lanes):
            if binned is None:
                gaps = self._tracks[lane.signal].known.gaps(int(borders[0]), int(borders[-1]))
                begin, until = gaps.start, gaps.end
            else:
                first, after = bins.stretches(binned.code[n] == bins.UNKNOWN)
                begin, until = borders[first], borders[after]
            instants = [pl.Series(name, at).cast(INSTANT) for name, at in (("begin", begin), ("until", until))]
            parts.append(
                pl.DataFrame(
                    {
                        "lane": np.full(len(begin), n, np.int64),
                        "at": self.clock.axis(begin),
                        "length": (until - begin) / 1000,
                        "begin": self.clock.texts(instants[0]),
                        "until": self.clock.texts(instants[1]),
                    }
                )
            )
        return pl.concat(parts)

    def _held(self, events: pl.DataFrame) -> tuple[bins.Whole, bins.Whole, bins.Reals]:
        """How long each known value of a measured signal held: start [us], end [us], value."""
        segments = self.record.segments
        last = segments["end"].gather(segments["segment"].search_sorted(events["segment"]))
        here = (pl.col("segment").shift(-1) == pl.col("segment")).fill_null(value=False)
        held = (
            events.with_columns(last=last)
            .with_columns(end=pl.when(here).then(pl.col("time").shift(-1)).otherwise("last"))
            .drop_nulls("value")
            .sort("time", maintain_order=True)
        )
        return whole(held["time"]), np.maximum(whole(held["end"]), whole(held["time"]) + 1), held["value"].to_numpy()

    def _measure(self, name: str, borders: bins.Whole) -> Measure:
        motion = words.motion_of(name)
        low, high = bins.extremes(*self._measures[name], borders)
        title = words.lane_name(name, motion)
        rated = self.record.rated_load_kg if name == "load.kg" else None
        return Measure(f"{motion}: {title}" if motion and title[0] != motion[0] else title, low, high, rated)


def _no_gaps() -> pl.DataFrame:
    return pl.DataFrame(
        schema={"lane": pl.Int64, "at": pl.Float64, "length": pl.Float64, "begin": pl.String, "until": pl.String}
    )


def _lane(signal: str) -> Lane:
    motion = words.motion_of(signal)
    return Lane(signal, motion or "", words.lane_name(signal, motion), words.needs_person(signal))
