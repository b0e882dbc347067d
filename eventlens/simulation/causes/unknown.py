"""Faults that are in no list of causes: they leave traces, and none of the known causes explains them."""

from __future__ import annotations

import random
from functools import partial

from eventlens.signals import MOTIONS, opposite
from eventlens.simulation.causes.machine import Trouble
from eventlens.simulation.causes.plan import Plan


class _SecondPendant(Trouble):
    """A second pendant hangs on the same inputs: somebody asks for the other direction while the hoist runs."""

    def __init__(self, share: float) -> None:
        self._share = share

    def changed(self, signal: str, on: bool) -> None:
        for way in MOTIONS["hoist"]:
            if signal == f"hoist.{way}.contactor" and on and self.happens(self._share):
                other = f"hoist.{opposite('hoist', way)}.command"
                self.crane.engine.after(self.rng.expovariate(1 / 1.5), partial(self._press, other))

    def _press(self, command: str) -> None:
        crane = self.crane
        if crane.drives["hoist"].direction is None or crane.true[command]:
            return
        crane.set(command, True)
        crane.engine.after(
            self.rng.uniform(0.3, 1.5), lambda: None if crane.held.get(command) else crane.set(command, False)
        )


def two_pendants(rng: random.Random, days: int) -> Plan:
    """Two people with a pendant each."""
    return Plan((_SecondPendant(rng.uniform(0.02, 0.08)),))


class _LooseStop(Trouble):
    """The contact of the emergency stop opens for moments when the machine shakes; nobody touches it."""

    def __init__(self, share: float) -> None:
        self._share = share

    def changed(self, signal: str, on: bool) -> None:
        if signal.endswith(".contactor") and ".fast." not in signal and on and self.happens(self._share):
            self.crane.engine.after(self.rng.expovariate(1 / 1.5), self._open)

    def _open(self) -> None:
        self.crane.open_wire(["stop.emergency"], self.rng.uniform(0.02, 0.15))


def stop_contact(rng: random.Random, days: int) -> Plan:
    """A loose contact in the stop circuit."""
    return Plan((_LooseStop(rng.uniform(0.01, 0.04)),), motion=None)


class _Induced(Trouble):
    """Something near induces voltage in long wires: inputs come on for moments, at rest as well."""

    def __init__(self, per_day: float) -> None:
        self._per_day = per_day

    def new_day(self, day: int) -> None:
        at = 6.0 * 3600.0
        while (at := at + self.rng.expovariate(self._per_day / (12.0 * 3600.0))) < 18.0 * 3600.0:
            self.crane.engine.after(at, self._pulse)

    def _pulse(self) -> None:
        crane = self.crane
        signal = self.rng.choice([name for name in crane.state if name.endswith((".command", ".limit"))])
        if not crane.true[signal]:
            crane.set(signal, True)
            crane.engine.after(
                self.rng.uniform(0.02, 0.08), lambda: None if crane.held.get(signal) else crane.set(signal, False)
            )


def induced_pulses(rng: random.Random, days: int) -> Plan:
    """Interference on the inputs."""
    return Plan((_Induced(rng.uniform(10.0, 40.0)),), motion=None)


class _Permit(Trouble):
    """A permit from outside that is not logged goes for seconds: no coil is fed, commands and supply stand."""

    def __init__(self, share: float) -> None:
        self._share = share

    def changed(self, signal: str, on: bool) -> None:
        if signal.endswith(".contactor") and ".fast." not in signal and on and self.happens(self._share):
            self.crane.engine.after(self.rng.expovariate(1 / 3.0), self._gone)

    def _gone(self) -> None:
        self.crane.unfeed(self.rng.uniform(2.0, 15.0))


def zone_permit(rng: random.Random, days: int) -> Plan:
    """A gate, a radio or another crane takes its permit away."""
    return Plan((_Permit(rng.uniform(0.01, 0.04)),), motion=None)


UNKNOWN = {
    "two_pendants": two_pendants,
    "stop_contact": stop_contact,
    "induced_pulses": induced_pulses,
    "zone_permit": zone_permit,
}
"""Fault -> what it makes of a machine."""
