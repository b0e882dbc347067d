"""The course of time: actions at instants, worked off in order; idle hours cost nothing."""

from __future__ import annotations

import heapq
from collections.abc import Callable

Action = Callable[[], None]


class Call:
    """An action that is due at an instant [s]; it can be called off."""

    __slots__ = ("action", "time")

    def __init__(self, time: float, action: Action) -> None:
        self.time = time
        self.action: Action | None = action

    def cancel(self) -> None:
        """It will not happen."""
        self.action = None


class Engine:
    """Instants in seconds since the beginning of the simulation."""

    def __init__(self) -> None:
        self.now = 0.0
        self._queue: list[tuple[float, int, Call]] = []
        self._count = 0

    def at(self, time: float, action: Action) -> Call:
        """Do the action at an instant; what lies in the past is done now. Equal instants keep their order."""
        call = Call(max(time, self.now), action)
        self._count += 1
        heapq.heappush(self._queue, (call.time, self._count, call))
        return call

    def after(self, seconds: float, action: Action) -> Call:
        """Do the action some seconds from now."""
        return self.at(self.now + seconds, action)

    def advance(self, until: float, stop: Callable[[], bool] | None = None) -> bool:
        """Let time pass until an instant; with `stop`, no longer than until it holds. Says whether it held."""
        if stop is not None and stop():
            return True
        while self._queue and self._queue[0][0] <= until:
            time, _, call = heapq.heappop(self._queue)
            if call.action is None:
                continue
            self.now = time
            call.action()
            if stop is not None and stop():
                return True
        self.now = max(self.now, until)
        return False
