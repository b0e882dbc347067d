"""Causes in what feeds the machine: the site's supply, terminals, collector, feeder; and the pendant's wires."""

from __future__ import annotations

import random
from functools import partial

from eventlens.signals import MOTIONS
from eventlens.simulation.causes.machine import Trouble
from eventlens.simulation.causes.plan import Course, Plan

TRAVELS = ("trolley", "bridge")


def _starts_or_stops(signal: str) -> str | None:
    """The motion whose direction contactor this is."""
    motion, _, kind = signal.partition(".")
    return motion if kind.endswith(".contactor") and not kind.startswith("fast") else None


class _Dips(Trouble):
    """Something big starts on the site at about the same time each day, several times over."""

    def __init__(self, hour: float, spread_h: float, each_day: tuple[int, int], stray: float) -> None:
        self._hour, self._spread_h, self._each_day, self._stray = hour, spread_h, each_day, stray

    def new_day(self, day: int) -> None:
        begin = self.crane.engine.now
        hours = [self._hour + self.rng.gauss(0.0, self._spread_h) for _ in range(self.rng.randint(*self._each_day))]
        if self.happens(self._stray):
            hours.append(self.rng.uniform(6.0, 18.0))
        for hour in hours:
            self.crane.engine.at(begin + hour * 3600.0, self._dip)

    def _dip(self) -> None:
        self.crane.blackout(self.rng.uniform(0.06, 0.6))


def supply_dip(rng: random.Random, days: int) -> Plan:
    """Dips of the site's supply at one clock time."""
    hour = rng.choice((rng.uniform(6.2, 9.5), rng.uniform(14.2, 17.5)))
    return Plan((_Dips(hour, rng.uniform(0.05, 0.15), (20, 45), rng.uniform(0.0, 0.5)),), motion=None)


class _LooseCommon(Trouble):
    """A terminal opens when a travel motion jerks the machine; everything on its common falls."""

    def __init__(self, share: Course, without: tuple[str, ...]) -> None:
        self._share, self._without = share, without

    def changed(self, signal: str, on: bool) -> None:
        motion = _starts_or_stops(signal)
        if motion is None:
            return
        share = self._share.at(self.day) * (1.0 if motion in TRAVELS else 0.1)
        if self.happens(share):
            self.crane.engine.after(self.rng.expovariate(1 / 0.5), self._open)

    def _open(self) -> None:
        crane, seconds = self.crane, self.rng.uniform(0.02, 0.2)
        crane.open_wire([name for name in crane.state if name not in self._without], seconds)
        crane.unfeed(seconds)


def common_terminal(rng: random.Random, days: int) -> Plan:
    """A loose common terminal; what hangs on another fuse stays."""
    other = ("supply.control", "supply.phase_fault", "stop.emergency", "overload.trip", "overload.fault")
    share = Course(rng.uniform(0.0, 0.3) * days, rng.uniform(0.01, 0.02), rng.uniform(0.05, 0.15), days)
    return Plan((_LooseCommon(share, other),), motion=None)


class _CollectorGap(Trouble):
    """The bridge's collector loses its rail for a moment at one place."""

    def __init__(self, place: float, share: Course, phase: float) -> None:
        self._place, self._share, self._phase = place, share, phase

    def begin(self) -> None:
        bridge = self.crane.drives["bridge"]
        bridge.axis.mark(self._place * bridge.way_m, lambda up: self._pass())

    def _pass(self) -> None:
        if self.happens(self._share.at(self.day)):
            seconds = self.rng.uniform(0.02, 0.3)
            self.crane.blackout(seconds, control=seconds > 0.04)
            if self.happens(self._phase):
                self.crane.set("supply.phase_fault", True)
                self.crane.engine.after(seconds + 0.3, lambda: self.crane.set("supply.phase_fault", False))


def collector_gap(rng: random.Random, days: int) -> Plan:
    """A joint of the bridge's rail."""
    share = Course(rng.uniform(0.0, 0.3) * days, rng.uniform(0.1, 0.25), rng.uniform(0.3, 0.7), days)
    return Plan(
        (_CollectorGap(rng.uniform(0.25, 0.75), share, rng.uniform(0.0, 0.5)),), motion=None, habits={"travel": 1.0}
    )


class _LongFeeder(Trouble):
    """At the start of the hoist the voltage sags, more with load and far from the feeding point."""

    def __init__(self, near: float, far: float, phase: float) -> None:
        self._near, self._far, self._phase = near, far, phase

    def changed(self, signal: str, on: bool) -> None:
        if _starts_or_stops(signal) != "hoist" or not on:
            return
        crane, bridge = self.crane, self.crane.drives["bridge"]
        part = bridge.axis.position / bridge.way_m
        share = self._near * (self._far / self._near) ** part
        heavy = crane.hook.tension > 0.5 * crane.build.rated_kg
        if self.happens(share * (3.0 if heavy else 1.0)):
            crane.engine.after(self.rng.uniform(0.03, 0.25), self._sag)

    def _sag(self) -> None:
        crane, seconds = self.crane, self.rng.uniform(0.08, 0.4)
        crane.unfeed(seconds)
        if self.happens(self._phase):
            crane.set("supply.phase_fault", True)
            crane.engine.after(self.rng.uniform(0.4, 1.2), lambda: crane.set("supply.phase_fault", False))


def phase_feeder_of(near: float, far: float, phase: float) -> Trouble:
    """A feeder by its losses per start near and far, and the share of them at which the phase relay acts."""
    return _LongFeeder(near, far, phase)


def phase_feeder(rng: random.Random, days: int) -> Plan:
    """A long or weak feeder."""
    near = rng.uniform(0.001, 0.003)
    feeder = _LongFeeder(near, near * rng.uniform(15.0, 30.0), rng.uniform(0.2, 0.7))
    return Plan((feeder,), habits={"travel": 1.0, "load_mean": 0.5})


class _Button(Trouble):
    """The contact of one button opens again in the first moment of a press, and is slow to open at times."""

    def __init__(self, signal: str, share: Course, sticks: float) -> None:
        self._signal, self._share, self._sticks = signal, share, sticks

    def pressed(self, signal: str, on: bool) -> None:
        if signal != self._signal or not on or not self.happens(self._share.at(self.day)):
            return
        at = self.rng.uniform(0.02, 0.12)
        for _ in range(self.rng.randint(1, 3)):
            seconds = self.rng.uniform(0.03, 0.14)
            self.crane.engine.after(at, partial(self._open, seconds))
            at += seconds + self.rng.uniform(0.03, 0.1)

    def _open(self, seconds: float) -> None:
        if self.crane.held.get(self._signal, False):
            self.crane.open_wire([self._signal], seconds)

    def lets_go_late(self, signal: str) -> float:
        if signal != self._signal or not self.happens(self._sticks * self._share.at(self.day)):
            return 0.0
        return self.rng.uniform(0.2, 1.5)


def pendant_button(rng: random.Random, days: int) -> Plan:
    """The contact of one button is worn."""
    signal = rng.choice(("hoist.raise.command", "hoist.raise.command", "hoist.lower.command", "trolley.left.command"))
    share = Course(rng.uniform(0.0, 0.3) * days, rng.uniform(0.02, 0.08), rng.uniform(0.1, 0.3), days)
    return Plan(
        (_Button(signal, share, rng.choice((0.0, 0.2))),), motion=signal.split(".")[0], direction=signal.split(".")[1]
    )


class _Cable(Trouble):
    """Broken cores open while the pendant is pulled along: seldom at rest, often while travelling."""

    def __init__(self, cores: tuple[str, ...], per_s: Course, moved: float) -> None:
        self._cores, self._per_s, self._moved = cores, per_s, moved

    def pressed(self, signal: str, on: bool) -> None:
        if on and signal in self._cores:
            self._wait(signal)

    def _wait(self, signal: str) -> None:
        drives = self.crane.drives
        moving = signal.split(".")[0] in TRAVELS or any(drives[name].brake.on for name in TRAVELS)
        rate = self._per_s.at(self.day) * (self._moved if moving else 1.0)
        if rate > 0.0:
            self.crane.engine.after(self.rng.expovariate(rate), partial(self._open, signal, self.crane.engine.now))

    def _open(self, signal: str, since: float) -> None:
        if self.crane.held.get(signal, False) and self.crane.tracks[signal][-1][0] <= since + 1e-9:
            seconds = min(self.rng.lognormvariate(-2.4, 0.6), 0.4)
            self.crane.open_wire([signal], max(seconds, 0.03))
            self.crane.engine.after(max(seconds, 0.03), partial(self._go_on, signal))

    def _go_on(self, signal: str) -> None:
        if self.crane.held.get(signal, False):
            self._wait(signal)


def pendant_cable(rng: random.Random, days: int) -> Plan:
    """Cores of the pendant's cable are broken at its entry."""
    names = [f"{motion}.{way}.command" for motion, ways in MOTIONS.items() for way in ways]
    cores = tuple(rng.sample(names, rng.randint(3, 5)))
    per_s = Course(rng.uniform(0.0, 0.2) * days, rng.uniform(0.001, 0.003), rng.uniform(0.005, 0.015), days)
    return Plan((_Cable(cores, per_s, rng.uniform(6.0, 12.0)),), motion=None)


CAUSES = {
    "supply_dip": supply_dip,
    "common_terminal": common_terminal,
    "pendant_button": pendant_button,
    "pendant_cable": pendant_cable,
    "phase_feeder": phase_feeder,
    "collector_gap": collector_gap,
}
"""Cause -> what it makes of a machine."""
