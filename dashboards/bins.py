"""What a signal did in each of many equal bins of time: plain arithmetic on whole microseconds.

A bin in which a signal was on for any time at all is never shown as off, however short the pulse; a bin of which any
part is unknown is never shown as off either.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

Whole = npt.NDArray[np.int64]
Reals = npt.NDArray[np.float64]
Codes = npt.NDArray[np.uint8]

UNKNOWN: Final = 0
OFF: Final = 1
PARTLY: Final = 2
ON: Final = 3
"""What a bin of a lane shows."""


def _rises(values: Whole) -> bool:
    return bool((values[1:] >= values[:-1]).all())


def _in_order(values: Whole) -> Whole:
    """Sorted; states mostly are, and to look costs a hundredth of sorting them (measured)."""
    return values if _rises(values) else np.sort(values)


@dataclass(frozen=True)
class Blocks:
    """Stretches of time [us] that neither overlap nor touch, by start."""

    start: Whole
    end: Whole

    @classmethod
    def of(cls, start: Whole, end: Whole) -> Blocks:
        """The union of any intervals."""
        if not len(start):
            return cls(start, end)
        if not _rises(start):
            order = np.argsort(start, kind="stable")
            start, end = start[order], end[order]
        begins, reach = start, np.maximum.accumulate(end)
        opens = np.concatenate(([True], begins[1:] > reach[:-1]))
        closes = np.append(opens[1:], True)
        return cls(begins[opens], reach[closes])

    @cached_property
    def _before(self) -> Whole:
        """Time covered before each block [us]."""
        length: Whole = self.end - self.start
        before: Whole = np.cumsum(length) - length
        return before

    def covered(self, instants: Whole) -> Whole:
        """Time covered before each instant [us]."""
        if not len(self.start):
            return np.zeros(len(instants), np.int64)
        last = np.searchsorted(self.start, instants, "right") - 1
        at = np.maximum(last, 0)
        inside = np.minimum(instants, self.end[at]) - self.start[at]
        return np.where(last < 0, 0, self._before[at] + inside)

    def gaps(self, start: int, end: int) -> Blocks:
        """What they leave of the window."""
        inside = (self.end > start) & (self.start < end)
        begins = np.concatenate(([start], np.maximum(self.end[inside], start)))
        ends = np.concatenate((np.minimum(self.start[inside], end), [end]))
        left = ends > begins
        return Blocks(begins[left], ends[left])


@dataclass(frozen=True)
class Track:
    """One signal over the log."""

    known: Blocks
    on: Blocks
    starts: Whole
    """Start of each time it was on, sorted."""
    ends: Whole
    """End of each time it was on, sorted; a pulse that starts and ends on one stamp lasts one microsecond."""

    @classmethod
    def of(cls, start: Whole, end: Whole, on: npt.NDArray[np.bool_]) -> Track:
        """From the signal's known intervals [us] in any order."""
        starts, ends = start[on], np.maximum(end[on], start[on] + 1)
        return cls(Blocks.of(start, end), Blocks.of(starts, ends), *(_in_order(at) for at in (starts, ends)))


@dataclass(frozen=True)
class Binned:
    """One signal in each bin."""

    code: Codes
    on_us: Whole
    """Time on."""
    unknown_us: Whole
    """Time unknown."""
    times: Whole
    """How many times it was on in the bin, also for a moment."""


def edges(start: int, end: int, count: int) -> Whole:
    """The borders [us] of `count` bins as equal as whole microseconds allow."""
    span = end - start
    return np.array([start + span * n // count for n in range(count + 1)], np.int64)


def binned(track: Track, borders: Whole) -> Binned:
    """What the signal did in each bin [from, to)."""
    begin, until = borders[:-1], borders[1:]
    on = np.diff(track.on.covered(borders))
    unknown = np.maximum(until - begin - np.diff(track.known.covered(borders)), 0)
    times = np.searchsorted(track.starts, until, "left") - np.searchsorted(track.ends, begin, "right")
    code = np.where(
        times > 0,
        np.where(on >= until - begin, ON, PARTLY),
        np.where(unknown > 0, UNKNOWN, OFF),
    )
    return Binned(code.astype(np.uint8), on, unknown, times)


def stretches(flags: npt.NDArray[np.bool_]) -> tuple[Whole, Whole]:
    """Where true values stand together: index of the first of each stretch, and index after its last."""
    padded = np.concatenate(([False], flags, [False])).astype(np.int8)
    turns = np.diff(padded)
    return np.flatnonzero(turns == 1), np.flatnonzero(turns == -1)


def extremes(start: Whole, end: Whole, values: Reals, borders: Whole) -> tuple[Reals, Reals]:
    """Least and largest value held in each bin; NaN where none is known.

    start, end [us]: how long each value held, sorted and apart.
    """
    first = np.searchsorted(end, borders[:-1], "right")
    after = np.searchsorted(start, borders[1:], "left")
    some = after > first
    pairs = np.column_stack((first, after))[some].ravel()
    padded = np.append(values, np.nan)  # an index after the last must exist
    low, high = np.full(len(some), np.nan), np.full(len(some), np.nan)
    if len(pairs):
        low[some], high[some] = np.fmin.reduceat(padded, pairs)[::2], np.fmax.reduceat(padded, pairs)[::2]
    return low, high


def largest(time: Whole, value: Reals, borders: Whole) -> Reals:
    """Largest value of the points in each bin [from, to); -inf where there is none."""
    begin = np.searchsorted(time, borders, "left")
    some = begin[1:] > begin[:-1]
    result = np.full(len(some), -np.inf)
    if some.any():
        result[some] = np.maximum.reduceat(np.append(value, -np.inf), begin[:-1][some])
        # reduceat runs to the next index it was given: the bins between hold no points, so that is the bin itself
        last = np.flatnonzero(some)[-1]
        result[last] = value[begin[last] : begin[last + 1]].max()
    return result
