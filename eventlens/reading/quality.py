"""Measures of a record: its step, silences, unbroken stretches, duplicates; and the tables of breaks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens import schema

GAPS_LOOKED_AT: Final = 100_000
"""Bound of the work for the step."""

_GRIDS_US: Final = tuple(
    round(seconds * 1e6)
    for seconds in (
        *(1e-6, 1e-5, 1e-4, 1e-3, 2e-3, 4e-3, 5e-3, 8e-3, 1e-2, 2e-2, 2.5e-2, 4e-2, 5e-2),
        *(0.1, 0.125, 0.2, 0.25, 0.5, 1, 2, 5, 10, 15, 20, 30, 60),
    )
)
"""Steps that clocks and scan cycles of controllers are usually built on (common practice), 1 us to 60 s."""
ON_GRID: Final = 0.995
"""Share of gaps that must be whole multiples of the step."""
ENOUGH_GAPS: Final = 50
CHANCE: Final = 1e-3
"""With fewer gaps: how improbable it must be that they lie on a coarser grid (at most a second) by chance."""
_SECOND_US: Final = 1_000_000
_BLOCK: Final = 1 << 15
"""Rows looked at at once: they stay in the processor's cache."""

Longs = npt.NDArray[np.int64]


def find_step_us(time: pl.Series, segment: pl.Series, resolution_us: int) -> int:
    """The largest usual grid on which the gaps between stamps lie [microseconds], at least the notation's own step.

    time: Int64 microseconds. Few gaps prove a coarse grid only if so many could hardly all be multiples by chance.
    """
    gaps = _some_gaps(time, segment)
    if not len(gaps):
        return resolution_us
    count, different = len(gaps), len(np.unique(gaps))
    divisor = int(np.gcd.reduce(gaps))
    for grid in sorted({*_GRIDS_US, min(divisor, _GRIDS_US[-1])}, reverse=True):
        if grid <= resolution_us:
            break
        by_chance = grid > _SECOND_US or different * math.log(grid / resolution_us) < -math.log(CHANCE)
        if count < ENOUGH_GAPS and by_chance:
            continue
        if np.count_nonzero(gaps % grid == 0) >= ON_GRID * count:
            return grid
    return resolution_us


def _some_gaps(time: pl.Series, segment: pl.Series) -> Longs:
    """Gaps above zero between neighbouring rows of the same stretch, evenly spread: GAPS_LOOKED_AT of them or fewer."""
    number = sum(int(np.count_nonzero(rises)) for _, rises in _rises(time, segment))
    every = number // GAPS_LOOKED_AT + 1 if number > GAPS_LOOKED_AT else 1
    found, first = [np.empty(0, np.int64)], 0
    for stamps, rises in _rises(time, segment):
        before = np.flatnonzero(rises)
        looked = before[first::every]
        found.append(stamps[looked + 1] - stamps[looked])
        first = (first - len(before)) % every
    return np.concatenate(found)


def _rises(time: pl.Series, segment: pl.Series) -> Iterator[tuple[Longs, npt.NDArray[np.bool_]]]:
    """The stamps, block by block, each with the first one of the next; whether each is below the one after it, in the
    same stretch."""
    stamps, stretch = time.to_numpy(), segment.to_numpy()
    for at in range(0, len(stamps) - 1, _BLOCK):
        here, own = stamps[at : at + _BLOCK + 1], stretch[at : at + _BLOCK + 1]
        rises = here[1:] > here[:-1]
        if own[0] != own[-1]:  # stretches follow each other
            rises &= own[1:] == own[:-1]
        yield here, rises


def _gaps(time: pl.Series, segment: pl.Series) -> pl.Series:
    """Gaps between neighbouring rows of the same stretch."""
    gaps = time.diff().slice(1)
    if len(segment) and segment[0] != segment[-1]:
        gaps = gaps.filter((segment == segment.shift()).slice(1))
    return gaps


def beat_of_us(time: pl.Series, segment: pl.Series) -> int | None:
    """The median gap of a name that the profile calls the heartbeat; its rows only."""
    gaps = _gaps(time, segment)
    return round(float(gaps.median())) if len(gaps) else None  # type: ignore[arg-type]


def find_holes(time: pl.Series, steps: pl.Series, longest_us: int | None) -> pl.Series:
    """Positions of rows that come after a silence longer than `longest_us`; clock steps are none."""
    if longest_us is None:
        return pl.Series(dtype=pl.UInt32)
    after = (time.diff() > longest_us).arg_true()
    return after.filter(~after.is_in(steps.implode())) if len(steps) else after


def segments_of(rows: int, breaks: Sequence[pl.Series]) -> pl.Series:
    """Number of the unbroken stretch of each row (UInt32); a stretch begins at each position in `breaks`."""
    at = pl.concat([series.cast(pl.UInt32) for series in breaks]).unique().sort()
    if at.is_empty():
        return pl.repeat(0, rows, dtype=pl.UInt32, eager=True)
    marks = np.zeros(rows, np.uint32)
    marks[at.to_numpy()] = 1
    return pl.Series(np.cumsum(marks, dtype=np.uint32))


def segment_table(time: pl.Series, segment: pl.Series, spans: pl.DataFrame | None = None) -> pl.DataFrame:
    """schema.SEGMENTS. time: schema.TIME. `spans`: start and end [microseconds] of each stretch, if its rows tell of
    more than their own instants."""
    runs = segment.rle().struct.unnest()
    if spans is not None:
        instant = pl.col("start", "end").cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
        return spans.select("segment", instant, rows=runs["len"].cast(pl.UInt32))
    ends = runs["len"].cum_sum() - 1
    starts = ends - runs["len"] + 1
    return pl.DataFrame(
        {
            "segment": runs["value"].cast(pl.UInt32),
            "start": time.gather(starts),
            "end": time.gather(ends),
            "rows": runs["len"].cast(pl.UInt32),
        }
    )


def border_table(time: pl.Series, lines: pl.Series, at: pl.Series) -> pl.DataFrame:
    """start, end (schema.TIME) and rows on either side of the positions."""
    before = at - 1
    return pl.DataFrame(
        {
            "start": time.gather(before),
            "end": time.gather(at),
            "rows": pl.concat([lines.gather(before).to_frame("a"), lines.gather(at).to_frame("b")], how="horizontal")
            .select(pl.concat_list("a", "b").cast(pl.List(schema.ROW)))
            .to_series(),
        }
    )


def hole_table(time: pl.Series, lines: pl.Series, holes: pl.DataFrame) -> pl.DataFrame:
    """schema.HOLES from at, why and limit_s of each hole."""
    borders = border_table(time, lines, holes["at"])
    return pl.concat([borders, holes.select("why", "limit_s")], how="horizontal").select(
        "start", "end", "why", "rows", "limit_s"
    )


def clock_step_table(time: pl.Series, lines: pl.Series, steps: pl.DataFrame) -> pl.DataFrame:
    """schema.CLOCK_STEPS from at and why of each step."""
    seconds = (pl.col("end") - pl.col("start")).dt.total_microseconds() / 1e6
    borders = pl.concat([border_table(time, lines, steps["at"]), steps.select("why")], how="horizontal")
    return borders.select(at="start", seconds=seconds, rows="rows", why="why")


def count_duplicates(time: pl.Series, cells: pl.DataFrame) -> int:
    """Rows that repeat an earlier row of the same instant entirely; only rows that share a stamp are compared."""
    stamps = time.cast(pl.Int64).to_numpy()
    same = np.zeros(len(stamps), np.bool_)
    np.equal(stamps[1:], stamps[:-1], out=same[1:])
    if not same.any():
        return 0
    again = pl.Series(same)
    shared = again | again.shift(-1, fill_value=False)
    instant = (~again).cast(pl.UInt32).cum_sum().filter(shared)
    keyed = cells.filter(shared).with_columns(_instant=instant)
    return keyed.height - keyed.unique().height
