"""The rhythm of a record: its sample cycle or a heartbeat, also one that changes its period, and silence against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

ROWS_LOOKED_AT: Final = 300_000
"""Bound of the work; a rhythm shows within far fewer rows."""
REGULAR: Final = 0.9
REGULAR_WITHIN: Final = 0.2
"""A rhythm: nine of ten gaps lie within a fifth of the median gap (common practice, no source)."""
FEWEST_BEATS: Final = 10
"""Records a heartbeat has at least (common practice, no source)."""
NEIGHBOURS: Final = 4
"""Gaps on either side that say which period holds at a gap (common practice, no source)."""
BLOCK: Final = 1 << 13
"""Gaps whose neighbours are sorted at once: they stay in the processor's cache (measured)."""
FEWEST_PAUSES: Final = 3
COUPLED: Final = (0.5, 0.8)
"""Pauses are rest, not holes, if half of all changes of some name lie at pauses, and changes of it at eight of ten of
them: then the beat is part of the work (common practice, no source)."""

Micros = npt.NDArray[np.int64]
Positions = npt.NDArray[np.intp]
Reals = npt.NDArray[np.float64]
Edges = Sequence[Positions]
"""Positions of the rows at which a name changes its value, for each name that may tell of work."""


@dataclass(frozen=True)
class Rhythm:
    """A period [microseconds] and the rows that beat; `beats` is None where every row does."""

    period_us: int
    beats: Positions | None = None

    def near(self, time: Micros, rows: Positions, breaks: Positions) -> Micros:
        """The period that holds around each of some rows: the longer of those before it and after it.

        breaks: positions of rows before which the clock stepped; no gap is taken across them.
        """
        at = np.arange(len(time)) if self.beats is None else self.beats
        if len(at) < 2:
            return np.full(len(rows), self.period_us)
        gap = np.searchsorted(at, rows) - 1  # the gap of beats in which the row's silence lies
        sides = []
        for offsets in (np.arange(-NEIGHBOURS, 0), np.arange(1, NEIGHBOURS + 1)):
            index = gap[:, None] + offsets
            inside = (index >= 0) & (index < len(at) - 1)
            index = np.clip(index, 0, len(at) - 2)
            gaps = (time[at[index + 1]] - time[at[index]]).astype(np.float64)
            crossed = np.searchsorted(breaks, at[index + 1], side="right") > np.searchsorted(
                breaks, at[index], side="right"
            )
            gaps[~inside | crossed] = np.nan
            none = np.isnan(gaps).all(axis=1)
            gaps[none] = self.period_us
            sides.append(np.nanmedian(gaps, axis=1))
        longer: Micros = np.maximum(sides[0], sides[1]).astype(np.int64)
        return longer


def longest_silence_us(period_us: Micros, step_us: int) -> Micros:
    """Silence beyond which the log was not recording: three beats, or a beat and two steps if that is more."""
    longest: Micros = np.maximum(3 * period_us, period_us + 2 * step_us)
    return longest


def regular_gap_us(gaps: Micros) -> int | None:
    """The median gap if the gaps are regular [microseconds], else None; the period may change now and then."""
    if not len(gaps):
        return None
    median = float(np.median(gaps))
    if median <= 0:
        return None
    near = np.count_nonzero(np.abs(gaps - median) <= REGULAR_WITHIN * median)
    if near >= REGULAR * len(gaps):
        return round(median)
    if len(gaps) < FEWEST_BEATS:
        return None
    around = _local_median(gaps)
    near = np.count_nonzero(np.abs(gaps - around) <= REGULAR_WITHIN * around)
    return round(median) if near >= REGULAR * len(gaps) else None


def _local_median(gaps: Micros) -> Reals:
    """The median of each gap and its NEIGHBOURS on either side; at the ends, of those that are there.

    All windows of a block are sorted at once, by exchanging neighbours until none is out of order (odd-even
    transposition sort): several times faster than one after the other.
    """
    width, rows = 2 * NEIGHBOURS + 1, len(gaps)
    found = np.empty(rows)
    for begin in range(0, rows - width + 1, BLOCK):
        block = gaps[begin : begin + BLOCK + width - 1]
        number = len(block) - width + 1
        window = [block[at : at + number] for at in range(width)]
        for turn in range(width):
            for at in range(turn % 2, width - 1, 2):
                low, high = window[at], window[at + 1]
                window[at], window[at + 1] = np.minimum(low, high), np.maximum(low, high)
        found[begin + NEIGHBOURS : begin + NEIGHBOURS + number] = window[NEIGHBOURS]
    for at in (*range(NEIGHBOURS), *range(rows - NEIGHBOURS, rows)):
        found[at] = np.median(gaps[max(at - NEIGHBOURS, 0) : at + NEIGHBOURS + 1])
    return found


def sample_rhythm(time: pl.Series, segment: pl.Series, edges: Edges = ()) -> Rhythm | None:
    """The cycle of a record that is written cyclically, or None. time: Int64 microseconds."""
    stamps, stretch = time.head(ROWS_LOOKED_AT).to_numpy(), segment.head(ROWS_LOOKED_AT).to_numpy()
    gaps = np.diff(stamps)
    same = np.diff(stretch) == 0
    period = regular_gap_us(gaps[same]) if np.count_nonzero(same) >= 2 else None
    if period is None:
        return None
    pauses = np.flatnonzero(same & (gaps > 3 * period))
    if is_work(pauses, pauses + 1, edges):
        return None
    return Rhythm(period)


def heartbeat_rhythm(time: pl.Series, segment: pl.Series, codes: pl.Series, value: pl.Series | None) -> Rhythm | None:
    """The quickest name that is recorded regularly and never pauses while others are recorded.

    A name that beats only while the machine runs is regular too: others speak in its pauses, or its pauses are framed
    by the changes of another name. That is no heartbeat.
    """
    head = [column.head(ROWS_LOOKED_AT) for column in (time, segment, codes)]
    counts = head[2].value_counts(name="n").filter(pl.col("n") >= FEWEST_BEATS)
    stamps, stretch, code = (column.to_numpy() for column in head)
    edges: list[Positions] | None = None
    found: list[tuple[int, int]] = []
    for candidate in sorted(counts[codes.name].to_list()) if counts.height else []:
        at = np.flatnonzero(code == candidate)
        gaps, same = np.diff(stamps[at]), np.diff(stretch[at]) == 0
        period = regular_gap_us(gaps[same])
        if period is None:
            continue
        pauses = np.flatnonzero(same & (gaps > 3 * period))
        if _speaks(stamps, at, pauses, gaps, period):
            continue
        if len(pauses) >= FEWEST_PAUSES:
            edges = edges if edges is not None else _edges(head[2], value)
            if is_work(at[pauses], at[pauses + 1], [e for n, e in enumerate(edges) if n != candidate]):
                continue
        found.append((period, candidate))
    if not found:
        return None
    period, beat = min(found)
    return Rhythm(period, np.flatnonzero(codes.to_numpy() == beat))


def _speaks(stamps: Micros, at: Positions, pauses: Positions, gaps: Micros, period: int) -> bool:
    """Whether other names are recorded within a pause of the beat as it is usual there."""
    # where a period changes, a longer gap is no pause: others may speak in it
    usual = Rhythm(period, at).near(stamps, at[pauses + 1], np.empty(0, np.intp)) if len(pauses) else pauses
    for pause, local in zip(pauses, usual, strict=True):
        if gaps[pause] <= 3 * local:
            continue
        inside = stamps[at[pause] : at[pause + 1] + 1]
        if int(np.diff(inside).max()) < gaps[pause] - 3 * local:
            return True
    return False


def _edges(codes: pl.Series, value: pl.Series | None) -> list[Positions]:
    """For each name the rows at which it changes; without values each of its rows."""
    frame = pl.DataFrame({"code": codes}).with_row_index("at")
    if value is not None:
        frame = frame.with_columns(value=value.head(len(codes)).cast(pl.String, strict=False))
        frame = frame.filter(pl.col("value").ne_missing(pl.col("value").shift()).over("code"))
    grouped = frame.group_by("code").agg("at")
    found: list[Positions] = [np.empty(0, np.intp)] * (int(codes.max() or 0) + 1)  # type: ignore[arg-type]
    for code, at in grouped.iter_rows():
        found[code] = np.asarray(at, np.intp)
    return found


def is_work(before: Positions, after: Positions, edges: Edges) -> bool:
    """Whether pauses (rows before and after each) are the rests between runs of work."""
    if len(before) < FEWEST_PAUSES:
        return False
    for at in edges:
        if not len(at):
            continue
        last = np.searchsorted(after + 1, at)  # the first pause that ends at or after the change
        inside = last < len(before)
        inside[inside] = at[inside] >= before[last[inside]] - 1
        framed = len(np.unique(last[inside]))
        if np.count_nonzero(inside) >= COUPLED[0] * len(at) and framed >= COUPLED[1] * len(before):
            return True
    return False
