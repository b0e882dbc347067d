"""What one cause makes of a machine: its troubles, the traits of machine and people, and what befalls the record."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from eventlens.simulation.causes.machine import Trouble
from eventlens.simulation.faults import Faults
from eventlens.simulation.logger import Recording
from eventlens.simulation.operator import Operator

PACES: Final = (0.3, 0.6, 1.0, 1.0, 1.5, 3.0, 4.0)
"""An hour of work is as busy as one of these, times the usual pace (judgement)."""


@dataclass(frozen=True)
class Course:
    """A rate over the days: nothing before `onset`, then geometrically from `first` to `last` on day `days`."""

    onset: float
    first: float
    last: float
    days: float

    def at(self, day: float) -> float:
        """The rate on a day."""
        if day < self.onset:
            return 0.0
        part = min((day - self.onset) / max(self.days - self.onset, 1.0), 1.0)
        return float(self.first * (self.last / self.first) ** part)


PATIENCE: Final = 3
"""After so many failures in a row a person lets the machine rest (judgement)."""


class Uneven(Operator):
    """People whose work comes in busy and in quiet hours, and who let a machine rest that does not work."""

    _hour, _usual, _failed, _last = -1, 0.0, 0, ""

    def cycle(self) -> None:
        """A work cycle at the pace of the hour."""
        hour = int(self._engine.now / 3600.0)
        if hour != self._hour:
            self._hour, self._usual = hour, self._usual or self._habits.cycles_per_h
            self._habits = replace(self._habits, cycles_per_h=self._usual * self._rng.choice(PACES))
        super().cycle()

    def _bear(self, outcome: str) -> None:
        super()._bear(outcome)
        self._failed += outcome in ("no_start", "stopped")
        if self._failed >= PATIENCE:
            self._failed = 0
            self._wait(2400.0)

    def hold(
        self,
        motion: str,
        direction: str,
        *,
        seconds: float | None = None,
        to: float | None = None,
        fast: bool = False,
    ) -> str:
        """Hold a button; what works makes up for what did not. No thumb presses the same button again at once."""
        button, now = f"{motion}.{direction}", self._engine.now
        if button == self._last and now < self._released_at + 0.2:
            self._engine.advance(self._released_at + self._rng.uniform(0.2, 0.35))
        self._last = button
        outcome = super().hold(motion, direction, seconds=seconds, to=to, fast=fast)
        if outcome == "done":
            self._failed = 0
        return outcome


@dataclass(frozen=True)
class Plan:
    """One cause in one machine."""

    troubles: tuple[Trouble, ...] = ()
    motion: str | None = "hoist"
    """Motion on which it acts; None: no single one."""
    direction: str | None = None
    """Direction on which it acts; None: no single one."""
    hoist: Mapping[str, float] = field(default_factory=dict)
    control: Mapping[str, float] = field(default_factory=dict)
    habits: Mapping[str, float] = field(default_factory=dict)
    second_crew: Mapping[str, float] | None = None
    people: type[Operator] = Uneven
    record: Callable[[Recording, random.Random], Recording] | None = None


class Daily(Trouble):
    """Ordinary faults whose rates change from day to day."""

    def __init__(self, rates: Callable[[int], Faults]) -> None:
        self._rates = rates

    def faults(self, day: int) -> Faults:
        return self._rates(day)
