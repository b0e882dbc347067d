"""The load on the hook and the device that guards against overload.

The rope is a spring: from the height at which it is just taut, its tension grows with the hook's way until the load
leaves its support. A load that leaves at a speed v swings about its weight with the amplitude m v / sqrt(g d), d the
stretch under its weight (free oscillation of a mass on a spring); that is why picking up at speed trips the device.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from eventlens.simulation.engine import Call, Engine
from eventlens.simulation.plant import GRAVITY, Axis, Mark

DAMPING: Final = 0.08
"""Damping of the swing as a share of critical; from memory, a few to ten per cent for wire rope."""


@dataclass(frozen=True)
class OverloadSettings:
    """Levels [kg] and times [s] of the device."""

    trip_kg: float
    reset_kg: float
    filter_s: float
    hold_s: float


class OverloadDevice:
    """On above the trip level, off again below the reset level and after its hold time."""

    def __init__(self, engine: Engine, settings: OverloadSettings, changed: Callable[[bool], None]) -> None:
        self._engine, self.settings, self._changed = engine, settings, changed
        self.on = False
        self._pending: Call | None = None

    def exceed(self) -> None:
        """The load is above the trip level now; the device says so after its filter time."""
        self._plan(True, self.settings.filter_s)

    def clear(self) -> None:
        """The load is below the reset level now."""
        self._plan(False, self.settings.filter_s + self.settings.hold_s)

    def _plan(self, on: bool, seconds: float) -> None:
        if self._pending is not None:
            self._pending.cancel()
            self._pending = None
        if on != self.on:
            self._pending = self._engine.after(seconds, lambda: self._arrive(on))

    def _arrive(self, on: bool) -> None:
        self._pending = None
        self.on = on
        self._changed(on)


class Hook:
    """What hangs on the hook: a mass [kg] whose support lets the rope go taut at a hook height [m]."""

    def __init__(
        self,
        engine: Engine,
        axis: Axis,
        stretch_per_kg: float,
        device: OverloadDevice,
        weighed: Callable[[], None],
        *,
        heavy: tuple[float, Callable[[bool], None]] | None = None,
        cell_kg: float | None = None,
    ) -> None:
        """heavy: a load [kg] and whom to tell when the rope carries more, or no more; cell_kg: steps of the cell."""
        self._heavy, self._cell_kg = heavy, cell_kg
        self._engine, self._axis, self._device, self._weighed = engine, axis, device, weighed
        self._stretch_per_kg = stretch_per_kg
        self.mass, self.support = 0.0, 0.0
        self._marks: list[Mark] = []
        self._swing: list[Call] = []

    @property
    def tension(self) -> float:
        """Load that the rope carries now, without the swing [kg]."""
        if not self.mass:
            return 0.0
        return min(max((self._axis.position - self.support) / self._stretch_per_kg, 0.0), self.mass)

    @property
    def lifted(self) -> bool:
        """The load hangs free."""
        return self.mass > 0.0 and self.tension >= self.mass

    def attach(self, mass: float, support: float) -> None:
        """Sling a load."""
        self.mass, self.support = mass, support
        self._place_marks()

    def carry(self, support: float) -> None:
        """The hanging load is now above another support."""
        self.support = support
        self._place_marks()

    def detach(self) -> None:
        """Take the load off the hook."""
        self.mass = 0.0
        self._place_marks()
        self._calm()
        self._device.clear()
        if self._heavy is not None:
            self._heavy[1](False)
        self._weighed()

    def height_of(self, tension: float) -> float:
        """Height of the hook at which the rope carries this much [m]."""
        return self.support + tension * self._stretch_per_kg

    def brake(self, speed: float, seconds: float) -> None:
        """The motion is stopped from a speed within a time: a load that came down swings.

        A ramp of T seconds excites the swing by |sin(x)| / x of a sudden stop, with x = T / 2 times its pulse.
        """
        if speed < 0.0 and self.lifted:
            half = 0.5 * seconds * self._pulse
            self._shake(-speed * abs(math.sin(half)) / half)

    @property
    def _pulse(self) -> float:
        """Angular frequency of the load on its rope [1/s]."""
        return math.sqrt(GRAVITY / (self.mass * self._stretch_per_kg))

    def _place_marks(self) -> None:
        for mark in self._marks:
            self._axis.unmark(mark)
        self._marks = []
        if not self.mass:
            return
        settings = self._device.settings
        places: list[tuple[float, Callable[[bool], None]]] = [(0.0, self._taut), (self.mass, self._leave)]
        if self.mass > settings.trip_kg:
            places.append((settings.trip_kg, self._above_trip))
        if self.mass > settings.reset_kg:
            places.append((settings.reset_kg, self._above_reset))
        if self._heavy is not None and self.mass > self._heavy[0]:
            places.append(self._heavy)
        if self._cell_kg is not None:
            steps = range(1, math.ceil(self.mass / self._cell_kg))
            places += [(number * self._cell_kg, lambda _: self._weighed()) for number in steps]
        self._marks = [self._axis.mark(self.height_of(tension), passed) for tension, passed in places]

    def _taut(self, up: bool) -> None:
        if not up:
            self._calm()
        self._weighed()

    def _leave(self, up: bool) -> None:
        self._weighed()
        if up:
            self._shake(self._axis.state()[1])

    def _above_trip(self, up: bool) -> None:
        if up:
            self._device.exceed()

    def _above_reset(self, up: bool) -> None:
        if not up:
            self._calm()
            self._device.clear()

    def _calm(self) -> None:
        for call in self._swing:
            call.cancel()
        self._swing = []

    def _shake(self, speed: float) -> None:
        """Plan what the device sees of a swing that begins at the weight with a speed upwards."""
        self._calm()
        settings, mass = self._device.settings, self.mass
        if mass > settings.trip_kg:
            return  # above the level anyway
        pulse = self._pulse
        amplitude = mass * speed * pulse / GRAVITY
        decay = math.exp(-2.0 * math.pi * DAMPING)
        begin = self._engine.now
        while mass + amplitude > settings.trip_kg:
            up = math.asin((settings.trip_kg - mass) / amplitude) / pulse
            self._swing.append(self._engine.at(begin + up, self._device.exceed))
            low = (settings.reset_kg - mass) / amplitude
            if low > -1.0:  # the swing falls below the reset level: on the way down, or in the trough
                down = (math.pi - math.asin(min(low, 1.0))) / pulse
                self._swing.append(self._engine.at(begin + down, self._device.clear))
            begin += 2.0 * math.pi / pulse
            amplitude *= decay
        if self._swing and mass < settings.reset_kg:
            self._swing.append(self._engine.at(begin, self._device.clear))
