"""The dice of the hoist's brake and of the switch that confirms its release."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

from eventlens.simulation.traits import ControlTraits

if TYPE_CHECKING:
    from eventlens.simulation.faults import Faults, Span

WORK_DAY_S = 8 * 3600.0
"""A rate per day is meant per eight hours of work [s]."""


class BrakeDice:
    """Draws only for faults that exist, from a stream of its own."""

    def __init__(self, faults: Faults, rng: random.Random) -> None:
        self._faults, self._rng = faults, rng

    def _happens(self, share: float) -> bool:
        return share > 0.0 and self._rng.random() < share

    def _late(self, share: float, seconds: Span) -> float | None:
        return self._rng.uniform(*seconds) if self._happens(share) else None

    def release_late(self) -> float | None:
        """Time that this release takes [s]; None: the usual one."""
        return self._late(self._faults.brake_late, self._faults.brake_late_s)

    def apply_late(self) -> float | None:
        """Time that this setting takes [s]; None: the usual one."""
        return self._late(self._faults.apply_late, self._faults.apply_late_s)

    def flicker(self, control: ControlTraits) -> tuple[float, float] | None:
        """Seconds after the release at which the switch opens, and for how long: never so long that the run ends."""
        if not self._happens(self._faults.confirm_flicker):
            return None
        after = 0.3 + self._rng.expovariate(1 / 1.5)
        longest = control.brake_loss_s - 1.5 * control.scan_s
        return after, min(self._rng.uniform(*self._faults.confirm_flicker_s), longest)

    def bounces(self) -> bool:
        """Does the switch bounce this time?"""
        return self._happens(self._faults.confirm_bounce)

    def stuck(self, begin: float, end: float) -> list[tuple[float, float, bool]]:
        """Times of a shift at which the switch sticks: (instant, for how long [s], coming on at rest)."""
        rate, found, at = self._faults.switch_stuck / WORK_DAY_S, [], begin
        while rate > 0.0 and (at := at + self._rng.expovariate(rate)) < end:
            shortest, longest = (math.log(seconds) for seconds in self._faults.switch_stuck_s)
            found.append((at, math.exp(self._rng.uniform(shortest, longest)), self._rng.random() < 0.5))
        return found
