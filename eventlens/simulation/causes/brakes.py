"""Causes in the brake of the hoist, its coil, its rectifier, its switching and its confirmation."""

from __future__ import annotations

import math
import random

from eventlens.simulation.causes.machine import DAY_S, Trouble
from eventlens.simulation.causes.plan import Course, Daily, Plan
from eventlens.simulation.faults import Faults


def release_switch_intermittent(rng: random.Random, days: int) -> Plan:
    """The switch flickers or does not close at all while the brake lifts."""
    flicker = Course(rng.uniform(0.0, 0.3) * days, rng.uniform(0.01, 0.03), rng.uniform(0.03, 0.10), days)
    missing, lost = rng.uniform(0.1, 0.5), rng.uniform(0.05, 0.3)
    return Plan(
        (
            Daily(
                lambda day: Faults(
                    confirm_flicker=flicker.at(day),
                    confirm_flicker_s=(0.03, 0.14),
                    confirm_missing=missing * flicker.at(day),
                    confirm_lost=lost * flicker.at(day),
                )
            ),
        ),
    )


class _Bridged(Trouble):
    """From an instant on the switch reads on, whatever the brake does."""

    def __init__(self, onset: float) -> None:
        self._onset = onset

    def begin(self) -> None:
        confirmation, engine = self.crane.drives["hoist"].confirmation, self.crane.engine
        engine.at(self._onset * DAY_S, lambda: confirmation.stick(1e9, True))


def release_switch_stuck(rng: random.Random, days: int) -> Plan:
    """A jammed lever sticks for minutes to hours; or a bridge is left in from one day on."""
    onset = rng.uniform(0.2, 0.6) * days
    if rng.random() < 0.4:
        return Plan((_Bridged(int(onset) + rng.uniform(0.3, 0.6)),))
    often, longest = rng.uniform(1.0, 5.0), rng.uniform(300.0, 5400.0)
    return Plan(
        (
            Daily(
                lambda day: Faults(switch_stuck=often if day >= onset else 0.0, switch_stuck_s=(20.0, longest)),
            ),
        ),
    )


class _Worn(Trouble):
    """The air gap grows: the plate comes later and leaves sooner, until the magnet no longer pulls it when cold."""

    def __init__(self, first: float, last: float, limit: float, days: int) -> None:
        self._gap, self._limit = Course(0.0, first, last, days), limit

    def release_factor(self) -> float:
        return self._gap.at(self.day)

    def apply_factor(self) -> float:
        return float(self._gap.at(self.day) ** -0.7)

    def brake_sticks(self) -> bool:
        cold = 0.10 * max(0.0, 1.0 - self.crane.winding.heat / 0.03)
        return self._gap.at(self.day) * (1.0 + cold) > self.rng.gauss(self._limit, 0.06 * self._limit)


def lining_gap(rng: random.Random, days: int) -> Plan:
    """The lining wears: release drifts up, set time down, in the end no release when cold."""
    last = rng.uniform(1.7, 2.5)
    worn = _Worn(rng.uniform(1.0, 1.15), last, last * rng.uniform(0.98, 1.08), days)
    return Plan((worn,), habits={"reversal": rng.uniform(0.1, 0.4)})


WARMTH_TAU_S = 900.0
"""Time in which a brake coil warms and cools [s] (from memory, a quarter of an hour for small ones)."""


class _WarmCoil(Trouble):
    """A brake coil that warms while it is fed and cools while it is not: 0 cold, 1 after long unbroken running."""

    _warmth, _since, _fed = 0.0, 0.0, False

    def warmth(self) -> float:
        """How warm it is now."""
        goal, now = (1.0 if self._fed else 0.0), self.crane.engine.now
        return goal + (self._warmth - goal) * math.exp(-(now - self._since) / WARMTH_TAU_S)

    def _feed(self, on: bool) -> None:
        self._warmth, self._since, self._fed = self.warmth(), self.crane.engine.now, on

    def changed(self, signal: str, on: bool) -> None:
        """It is fed from the contactor until that opens; the rest is in what fails."""
        if signal in ("hoist.raise.contactor", "hoist.lower.contactor"):
            self._feed(on and self.crane.drives["hoist"].brake.coil)


class _HotCoil(_WarmCoil):
    """From one day on the coil, or its lead, opens above some warmth."""

    def __init__(self, onset: float, warmth: float, cold: float) -> None:
        self._onset, self._opens, self._cold = onset, warmth, cold

    def brake_sticks(self) -> bool:
        if self.day < self._onset:
            return False
        hot = self.warmth() > self.rng.gauss(self._opens, 0.1 * self._opens)
        if sticks := hot or self.happens(self._cold):
            for _ in range(3):  # the motor drives against the brake
                self.crane.winding.run(True)
        return sticks


def brake_coil(rng: random.Random, days: int) -> Plan:
    """The brake coil opens when it is hot, now and then also cold (its lead)."""
    onset, cold = rng.uniform(0.2, 0.6) * days, rng.choice((0.0, rng.uniform(0.002, 0.02)))
    return Plan((_HotCoil(onset, rng.uniform(0.11, 0.17), cold),), habits={"cycles_per_h": rng.uniform(2.0, 3.0)})


class _HalfRectifier(_WarmCoil):
    """From one day on the coil gets half its voltage: slow to pull, quick to let go, too weak when hot."""

    def __init__(self, onset: float, slower: float, warmth: float, shaken: float) -> None:
        self._onset, self._slower, self._fails, self._shaken = onset, slower, warmth, shaken

    def _half(self) -> bool:
        return self.day >= self._onset

    def release_factor(self) -> float:
        return self._slower * (1.0 + 0.5 * self.warmth()) if self._half() else 1.0

    def apply_factor(self) -> float:
        return 0.7 if self._half() else 1.0

    def brake_sticks(self) -> bool:
        return self._half() and self.warmth() > self.rng.gauss(self._fails, 0.1 * self._fails)

    def changed(self, signal: str, on: bool) -> None:
        """A plate that is held weakly may drop for a moment while the load shakes it."""
        super().changed(signal, on)
        if signal == "hoist.brake.released" and on and self._half() and self.happens(self._shaken):
            self.crane.engine.after(self.rng.uniform(0.2, 3.0), self._drop)

    def _drop(self) -> None:
        brake = self.crane.drives["hoist"].brake
        if brake.on:
            brake.energise(False)
            self.crane.engine.after(self.rng.uniform(0.1, 0.3), self._pull)

    def _pull(self) -> None:
        drive = self.crane.drives["hoist"]
        drive.brake.energise(drive.direction is not None)


class _Storm(Trouble):
    """The supply goes for a moment in the night before."""

    def __init__(self, onset: float) -> None:
        self._at = int(onset) * DAY_S + 3600.0

    def begin(self) -> None:
        self.crane.engine.at(self._at, lambda: self.crane.blackout(0.8))


def rectifier_half(rng: random.Random, days: int) -> Plan:
    """One diode opens one day: release steps up, set time down, no release when hot."""
    onset = int(rng.uniform(0.25, 0.65) * days) + 0.1
    half = _HalfRectifier(onset, rng.uniform(1.45, 1.9), rng.uniform(0.11, 0.17), rng.choice((0.0, 0.004)))
    storm = (_Storm(onset),) if rng.random() < 0.5 else ()
    return Plan((half, *storm), habits={"cycles_per_h": rng.uniform(2.0, 3.0)})


class _AcSide(Trouble):
    """From one day on the coil's current dies away through the rectifier: the brake sets many times later."""

    def __init__(self, onset: float, times: float) -> None:
        self._onset, self._times = onset, times

    def apply_factor(self) -> float:
        return self._times if self.day >= self._onset else 1.0


def ac_side(rng: random.Random, days: int) -> Plan:
    """The DC-side contact no longer opens, after work on the panel."""
    return Plan((_AcSide(int(rng.uniform(0.25, 0.7) * days) + 0.1, rng.uniform(5.0, 10.0)),))


CAUSES = {
    "release_switch_intermittent": release_switch_intermittent,
    "release_switch_stuck": release_switch_stuck,
    "lining_gap": lining_gap,
    "brake_coil": brake_coil,
    "rectifier_half": rectifier_half,
    "ac_side": ac_side,
}
"""Cause -> what it makes of a machine."""
