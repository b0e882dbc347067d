"""Exact tracks as intervals in which a signal is on."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from functools import cached_property
from itertools import pairwise

from eventlens.signals import MOTIONS

Interval = tuple[float, float]
Tracks = Mapping[str, Sequence[tuple[float, float]]]
OPEN = float("inf")
"""End of an interval that had not ended when the simulation did."""


class View:
    """The tracks, looked at."""

    def __init__(self, tracks: Tracks) -> None:
        self.tracks = tracks
        self._on: dict[str, list[Interval]] = {}

    def on(self, signal: str) -> list[Interval]:
        """The intervals in which a signal is on, by start; those on from the beginning begin at 0."""
        if signal not in self._on:
            self._on[signal] = _intervals(self.tracks.get(signal, ()))
        return self._on[signal]

    def is_on(self, signal: str, at: float) -> bool:
        """Its state just after an instant."""
        return covers(self.on(signal), at)

    def touches(self, signal: str, begin: float, end: float) -> bool:
        """Whether it is on at any time from begin to end."""
        return touches(self.on(signal), begin, end)

    def contactors(self, motion: str) -> list[tuple[float, float, str]]:
        """(on, off, direction) of both directions' contactors, by start."""
        return sorted((a, b, way) for way in MOTIONS[motion] for a, b in self.on(f"{motion}.{way}.contactor"))

    def energised(self, motion: str) -> list[Interval]:
        """The stretches in which either direction's contactor is on."""
        joined: list[Interval] = []
        for begin, end, _ in self.contactors(motion):
            if joined and begin <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(joined[-1][1], end))
            else:
                joined.append((begin, end))
        return joined

    @cached_property
    def moving(self) -> list[Interval]:
        """The stretches in which any motion's contactor is on, not joined, by start."""
        return sorted((a, b) for motion in MOTIONS for a, b in self.energised(motion))


def _intervals(track: Sequence[tuple[float, float]]) -> list[Interval]:
    changes: list[tuple[float, float]] = []
    for at, value in track:
        if changes and changes[-1][0] == at:
            changes[-1] = (at, value)
        elif not changes or (changes[-1][1] > 0.5) != (value > 0.5):
            changes.append((at, value))
    found = [(a, b) for (a, value), (b, _) in pairwise(changes) if value > 0.5]
    if changes and changes[-1][1] > 0.5:
        found.append((changes[-1][0], OPEN))
    return found


def covers(intervals: Sequence[Interval], at: float) -> bool:
    return covering(intervals, at) is not None


def covering(intervals: Sequence[Interval], at: float) -> Interval | None:
    """The interval that holds an instant, if any."""
    place = bisect_right(intervals, (at, OPEN)) - 1
    return intervals[place] if place >= 0 and intervals[place][1] > at else None


def overlapping(intervals: Sequence[Interval], begin: float, end: float) -> Sequence[Interval]:
    """Those (apart, by start) that have more than an instant in common with a stretch."""
    place = max(bisect_right(intervals, (begin, OPEN)) - 1, 0)
    place += place < len(intervals) and intervals[place][1] <= begin
    return intervals[place : bisect_left(intervals, (end, -OPEN))]


def touches(intervals: Sequence[Interval], begin: float, end: float) -> bool:
    place = bisect_left(intervals, (end, -OPEN))
    return covers(intervals, begin) or (place > 0 and intervals[place - 1][0] >= begin)


def first_after(intervals: Sequence[Interval], at: float) -> Interval | None:
    """The first interval that begins at or after an instant."""
    place = bisect_left(intervals, (at, -OPEN))
    return intervals[place] if place < len(intervals) else None
