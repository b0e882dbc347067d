"""Parts of the machine as physics: what follows its coil after a time, what moves, what warms, what weighs."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from eventlens.simulation.engine import Call, Engine

GRAVITY: Final = 9.81
"""Acceleration of free fall [m/s2]."""


class Actuator:
    """A contactor or a brake: it follows its coil after a time that is drawn anew each time.

    A coil that changes its mind before the armature has moved leaves the state as it was.
    """

    def __init__(
        self,
        engine: Engine,
        pull_in_s: Callable[[], float],
        drop_s: Callable[[], float],
        changed: Callable[[bool], None],
    ) -> None:
        self._engine, self._pull_in_s, self._drop_s, self._changed = engine, pull_in_s, drop_s, changed
        self.coil = False
        self.on = False
        self._pending: Call | None = None

    def energise(self, coil: bool) -> None:
        """Switch the coil."""
        if coil == self.coil:
            return
        self.coil = coil
        if self._pending is not None:
            self._pending.cancel()
            self._pending = None
        if coil != self.on:
            delay = self._pull_in_s() if coil else self._drop_s()
            self._pending = self._engine.after(delay, lambda: self._arrive(coil))

    def _arrive(self, on: bool) -> None:
        self._pending = None
        self.on = on
        self._changed(on)


@dataclass
class Mark:
    """A place on an axis that calls back when it is passed: `passed(True)` upwards, `passed(False)` downwards."""

    place: float
    passed: Callable[[bool], None]
    above: bool


class Axis:
    """Position [m] and speed [m/s] along one motion; speed goes to its target at a constant rate [m/s2]."""

    def __init__(self, engine: Engine, position: float) -> None:
        self._engine = engine
        self._time, self._position, self._speed = engine.now, position, 0.0
        self._target, self._rate = 0.0, 1.0
        self._marks: list[Mark] = []
        self._pending: Call | None = None

    def state(self) -> tuple[float, float]:
        """Position and speed now."""
        elapsed = self._engine.now - self._time
        ramp = self._ramp_s()
        rate = math.copysign(self._rate, self._target - self._speed)
        t = min(elapsed, ramp)
        position = self._position + self._speed * t + 0.5 * rate * t * t
        if elapsed < ramp:
            return position, self._speed + rate * t
        return position + self._target * (elapsed - ramp), self._target

    @property
    def position(self) -> float:
        return self.state()[0]

    def drive(self, target: float, rate: float) -> None:
        """From now on go to a speed at a rate."""
        self._rebase()
        self._target, self._rate = target, rate
        self._plan()

    def mark(self, place: float, passed: Callable[[bool], None]) -> Mark:
        """Call back whenever this place is passed."""
        mark = Mark(place, passed, self.position >= place)
        self._marks.append(mark)
        self._plan()
        return mark

    def unmark(self, mark: Mark) -> None:
        """No longer call back."""
        if mark in self._marks:
            self._marks.remove(mark)

    def _ramp_s(self) -> float:
        return abs(self._target - self._speed) / self._rate

    def _rebase(self) -> None:
        self._position, self._speed = self.state()
        self._time = self._engine.now

    def _plan(self) -> None:
        if self._pending is not None:
            self._pending.cancel()
            self._pending = None
        self._rebase()
        if self._speed == 0.0 and self._target == 0.0:
            return
        first, soonest = None, math.inf
        for mark in self._marks:
            seconds = self._when(mark)
            if seconds < soonest:
                first, soonest = mark, seconds
        if first is not None:
            reached = first
            self._pending = self._engine.after(soonest, lambda: self._pass(reached))

    def _pass(self, mark: Mark) -> None:
        self._pending = None
        mark.above = not mark.above
        mark.passed(mark.above)
        self._plan()

    def _when(self, mark: Mark) -> float:
        """Seconds until the mark is passed to its other side, or infinity."""
        way = -1.0 if mark.above else 1.0
        gap, speed, ramp = mark.place - self._position, self._speed, self._ramp_s()
        rate = math.copysign(self._rate, self._target - speed)
        if ramp > 0.0:
            root = speed * speed + 2.0 * rate * gap
            if root >= 0.0:
                # of the two roots the one at which the speed has the sign of the way
                t = (way * math.sqrt(root) - speed) / rate
                if -1e-9 <= t <= ramp and root > 0.0:
                    return max(t, 0.0)
        if self._target * way > 0.0:
            start = self._position + speed * ramp + 0.5 * rate * ramp * ramp
            t = ramp + (mark.place - start) / self._target
            if t >= ramp - 1e-9:
                return max(t, 0.0)
        return math.inf


class Winding:
    """Heat of a motor winding: first order, 0 = cold, 1 = the thermistor trips; it resets below `reset`."""

    def __init__(
        self, engine: Engine, tau_s: float, steady: float, kick: float, reset: float, hot: Callable[[bool], None]
    ) -> None:
        self._engine, self._tau_s, self._steady, self._kick, self._reset = engine, tau_s, steady, kick, reset
        self._hot_changed = hot
        self._time, self._heat, self._goal = engine.now, 0.0, 0.0
        self.hot = False
        self._pending: Call | None = None

    @property
    def heat(self) -> float:
        """Heat now, as a share of the trip level."""
        return self._goal + (self._heat - self._goal) * math.exp(-(self._engine.now - self._time) / self._tau_s)

    def run(self, running: bool) -> None:
        """The motor starts or stops; a start adds the heat of its inrush."""
        self._heat, self._time = self.heat + (self._kick if running else 0.0), self._engine.now
        self._goal = self._steady if running else 0.0
        self._plan()

    def _plan(self) -> None:
        if self._pending is not None:
            self._pending.cancel()
            self._pending = None
        level = self._reset if self.hot else 1.0
        if self.hot == (self._heat <= level):  # already on the other side
            self._pending = self._engine.after(0.0, self._flip)
        elif (self._goal - level) * (self._heat - level) < 0.0:
            seconds = self._tau_s * math.log((self._heat - self._goal) / (level - self._goal))
            self._pending = self._engine.after(seconds, self._flip)

    def _flip(self) -> None:
        self._pending = None
        self._heat, self._time = self.heat, self._engine.now
        self.hot = not self.hot
        self._hot_changed(self.hot)
        self._plan()
