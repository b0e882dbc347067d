"""Causes in the use of the machine: loads, habits of one crew, more work than the motor bears."""

from __future__ import annotations

import random

from eventlens.signals import opposite
from eventlens.simulation.causes.plan import Plan, Uneven
from eventlens.simulation.drive import Drive


def true_overload(rng: random.Random, days: int) -> Plan:
    """Loads above the rated one are lifted, on one shift or on both."""
    heavy = {"too_heavy": rng.uniform(0.06, 0.25), "near_rated": rng.uniform(0.2, 0.4)}
    if rng.random() < 0.5:
        return Plan(motion=None, habits=heavy)
    return Plan(motion=None, second_crew=heavy)


def snatch(rng: random.Random, days: int) -> Plan:
    """One crew picks up at speed from a slack rope."""
    rough = {"snatch": rng.uniform(0.4, 0.9), "near_rated": rng.uniform(0.1, 0.4), "load_mean": rng.uniform(0.5, 0.65)}
    stiff = {"stretch_m": rng.uniform(0.02, 0.035), "fast_mps": rng.uniform(0.16, 0.25)}
    return Plan(motion=None, hoist=stiff, second_crew=rough)


def jogging(rng: random.Random, days: int) -> Plan:
    """One crew fits its loads by inching."""
    return Plan(second_crew={"jog": rng.uniform(0.5, 1.0)})


class _Plugging(Uneven):
    """People who stop a motion by driving it the other way."""

    def _correct(self, drive: Drive, target: float, near: float, direction: str) -> None:
        if self._habits.reversal > 0.4 and self._chance(self._habits.reversal):
            self.hold(drive.motion, opposite(drive.motion, direction), seconds=self._about(0.3))
        super()._correct(drive, target, near, direction)


def plugging(rng: random.Random, days: int) -> Plan:
    """One crew stops by reversing, and the control lets it."""
    return Plan(
        second_crew={"reversal": rng.uniform(0.5, 0.9)},
        control={"dwell_s": rng.uniform(0.0, 0.05)},
        people=_Plugging,
    )


def limit_as_stop(rng: random.Random, days: int) -> Plan:
    """One crew parks the empty hook in the upper limit."""
    return Plan(second_crew={"park_at_limit": rng.uniform(0.5, 0.95)}, direction="raise")


def motor_thermal(rng: random.Random, days: int) -> Plan:
    """More work than the motor bears in busy hours, or its cooling is poor."""
    busy = {"cycles_per_h": rng.uniform(5.0, 9.0), "jog": rng.uniform(0.05, 0.3)}
    return Plan(habits=busy, hoist={"heat_steady": rng.uniform(3.5, 5.5), "heat_kick": rng.uniform(0.003, 0.006)})


CAUSES = {
    "true_overload": true_overload,
    "snatch": snatch,
    "jogging": jogging,
    "plugging": plugging,
    "limit_as_stop": limit_as_stop,
    "motor_thermal": motor_thermal,
}
"""Cause -> what it makes of a machine."""
