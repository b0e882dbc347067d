"""Puts what comes out of order in its place, and tells what comes too late for that.

Each record waits a stated time from its arrival; when its time is up, it and all that wait with an earlier stamp are
given, in the order of their stamps (those of one stamp in the order of arrival). So a record is in its place if it
comes at most that time after the first one with a later stamp. Only the arrival is measured by a clock of this
computer: a clock of the machine that is wrong does no harm, two of them that differ must differ by less than the wait.
"""

from __future__ import annotations

import heapq
from collections import deque
from typing import Generic, TypeVar

T = TypeVar("T")


class Waiting(Generic[T]):
    """Records that wait. Stamps are whole numbers of any unit, `now` is a clock that never goes back [s]."""

    def __init__(self, wait_s: float, floor: int | None = None) -> None:
        """floor: the stamp of the last record that was given before."""
        self.wait_s, self.floor = wait_s, floor
        self.latest = floor
        """The highest stamp of all that came."""
        self._heap: list[tuple[int, int, T]] = []
        self._arrivals: deque[tuple[float, int]] = deque()
        """Arrival and stamp of each, in the order of arrival."""
        self._number = 0

    def __len__(self) -> int:
        return len(self._heap)

    def add(self, stamp: int, record: T, now: float) -> bool:
        """Lets a record wait; False where one with a later stamp was given already: it is late, and not taken."""
        if self.floor is not None and stamp < self.floor:
            return False
        heapq.heappush(self._heap, (stamp, self._number, record))
        self._number += 1
        self.latest = stamp if self.latest is None else max(self.latest, stamp)
        self._arrivals.append((now, stamp))
        return True

    def due(self, now: float) -> list[tuple[int, T]]:
        """What has waited long enough, and all before it, in order."""
        bound: int | None = None
        while self._arrivals and now - self._arrivals[0][0] > self.wait_s:
            stamp = self._arrivals.popleft()[1]
            bound = stamp if bound is None else max(bound, stamp)
        return [] if bound is None else self._up_to(bound)

    def rest(self) -> list[tuple[int, T]]:
        """All that wait, in order: nothing earlier will come."""
        self._arrivals.clear()
        return self._up_to(max(self._heap)[0]) if self._heap else []

    def next_s(self, now: float) -> float | None:
        """How long until something is due [s]; None: nothing waits."""
        return max(0.0, self._arrivals[0][0] + self.wait_s - now) if self._arrivals else None

    def forget(self) -> None:
        """What was given no longer bounds what comes."""
        self.floor = self.latest = None

    def _up_to(self, bound: int) -> list[tuple[int, T]]:
        given: list[tuple[int, T]] = []
        while self._heap and self._heap[0][0] <= bound:
            stamp, _, record = heapq.heappop(self._heap)
            given.append((stamp, record))
        if given:
            self.floor = given[-1][0] if self.floor is None else max(self.floor, given[-1][0])
        return given
