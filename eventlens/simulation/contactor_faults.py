"""The dice of contactors: late, welded, closing by themselves, or never coming any more."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

from eventlens.signals import MOTIONS
from eventlens.simulation.brake_faults import WORK_DAY_S

if TYPE_CHECKING:
    from eventlens.simulation.faults import Faults


class ContactorDice:
    """Draws only for faults that exist, from a stream of its own."""

    def __init__(self, faults: Faults, rng: random.Random) -> None:
        self._faults, self._rng = faults, rng

    def _happens(self, share: float) -> bool:
        return share > 0.0 and self._rng.random() < share

    def extra_close(self, output: str) -> float:
        """Seconds by which the contactor of an output closes late."""
        slow = output != "fast" and self._happens(self._faults.contactor_slow)
        return self._rng.uniform(*self._faults.contactor_slow_s) if slow else 0.0

    def welded(self, motion: str, output: str) -> float | None:
        """Seconds for which the contactor of an output stays on after it has been switched off; None: it opens."""
        faults = self._faults
        share = faults.welded if output != "fast" else faults.fast_welded if motion == "hoist" else 0.0
        return self._rng.uniform(*faults.welded_s) if self._happens(share) else None

    def lost(self, output: str, now: float) -> bool:
        """Is this output ("hoist.raise", "hoist.fast") among those that never come, at an instant [s]?"""
        begin, end = self._faults.lost.get(output, (0.0, 0.0))
        return begin * 3600.0 <= now < end * 3600.0

    def strays(self, begin: float, end: float, motions: list[str]) -> list[tuple[float, float, str, str]]:
        """Times of a shift at which a contactor closes by itself: (instant, length [s], motion, direction)."""
        rate, found, at = self._faults.stray / WORK_DAY_S, [], begin
        while rate > 0.0 and (at := at + self._rng.expovariate(rate)) < end:
            motion = self._rng.choice(motions)
            found.append((at, self._rng.uniform(*self._faults.stray_s), motion, self._rng.choice(MOTIONS[motion])))
        return found
