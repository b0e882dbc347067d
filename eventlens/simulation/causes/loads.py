"""Causes at the hook: the overload device, its sensor, slack rope, and the limits of the hoist."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import partial

from eventlens.simulation.causes.machine import Trouble
from eventlens.simulation.causes.plan import Course, Plan, Uneven
from eventlens.simulation.load import OverloadSettings
from eventlens.simulation.plant import Mark


class _DriftingZero(Trouble):
    """The device reads more than hangs on the hook, a little more each day; or it was set low on one day."""

    def __init__(self, zero: Course, onset: float, level: float) -> None:
        self._zero, self._onset, self._level = zero, onset, level
        self._settings: OverloadSettings | None = None

    def _offset(self) -> float:
        return self._zero.at(self.day) * self.crane.build.rated_kg

    def new_day(self, day: int) -> None:
        device, rated = self.crane.overload, self.crane.build.rated_kg
        usual = self._settings = self._settings or device.settings
        level = self._level if self.day >= self._onset else 1.0
        trip, reset = (max(kg * level - self._offset(), 0.02 * rated) for kg in (usual.trip_kg, usual.reset_kg))
        device.settings = replace(usual, trip_kg=trip, reset_kg=min(reset, 0.95 * trip))
        self.crane.weigh()

    def weighs(self, kg: float) -> float:
        return kg + self._offset()


def overload_low(rng: random.Random, days: int) -> Plan:
    """The device is set too low from one day on, or its zero drifts up."""
    if rng.random() < 0.4:
        low = _DriftingZero(Course(days + 1.0, 0.01, 0.01, days), rng.uniform(0.2, 0.6) * days, rng.uniform(0.45, 0.7))
    else:
        zero = Course(rng.uniform(0.0, 0.3) * days, rng.uniform(0.02, 0.06), rng.uniform(0.5, 0.95), days)
        low = _DriftingZero(zero, days + 1.0, 1.0)
    return Plan((low,), motion=None)


class _DeadDevice(Trouble):
    """The device no longer acts."""

    def __init__(self, onset: float) -> None:
        self._onset = onset

    def device_dead(self) -> bool:
        return self.day >= self._onset


def overload_high(rng: random.Random, days: int) -> Plan:
    """The device is dead, and heavy loads are lifted."""
    heavy = {"too_heavy": rng.uniform(0.04, 0.2), "near_rated": rng.uniform(0.1, 0.4)}
    return Plan((_DeadDevice(rng.choice((0.0, 0.0, 0.2 * days))),), motion=None, habits=heavy)


class _LooseSensor(Trouble):
    """The sensor's cable opens when something moves, and at rest too; the reading jumps and the device acts."""

    def __init__(self, per_move: Course, per_day: float) -> None:
        self._per_move, self._per_day, self._jump = per_move, per_day, 0.0

    def new_day(self, day: int) -> None:
        if self._per_move.at(day) > 0.0:
            at = 6.0 * 3600.0
            while (at := at + self.rng.expovariate(self._per_day / (12.0 * 3600.0))) < 18.0 * 3600.0:
                self.crane.engine.after(at, self._burst)

    def changed(self, signal: str, on: bool) -> None:
        kind = signal.partition(".")[2]
        if kind.endswith(".contactor") and on and self.happens(self._per_move.at(self.day)):
            self.crane.engine.after(self.rng.uniform(0.0, 4.0), self._burst)

    def _burst(self) -> None:
        at = 0.0
        for _ in range(self.rng.randint(1, 9)):
            self.crane.engine.after(at, self._open)
            at += self.rng.uniform(0.1, 0.6)

    def _open(self) -> None:
        seconds = self.rng.uniform(0.04, 0.4)
        self.crane.open_wire(["overload.trip"], seconds)
        self._jump = self.rng.uniform(0.2, 1.5) * self.crane.build.rated_kg
        self.crane.weigh()
        self.crane.engine.after(seconds, self._back)

    def _back(self) -> None:
        self._jump = 0.0
        self.crane.weigh()

    def weighs(self, kg: float) -> float:
        return kg + self._jump


def overload_sensor(rng: random.Random, days: int) -> Plan:
    """The sensor of the device, or its cable."""
    share = Course(rng.uniform(0.0, 0.4) * days, rng.uniform(0.004, 0.01), rng.uniform(0.01, 0.05), days)
    return Plan((_LooseSensor(share, rng.uniform(0.5, 4.0)),), motion=None)


class _RunOn(Uneven):
    """People who lower on after the load has landed."""

    def _land(self, support: float) -> None:
        super()._land(support)
        if self._chance(0.5):
            self._wait(0.5)
            self.hold("hoist", "lower", seconds=self._about(4.0))


class _SlackSwitch(Trouble):
    """The slack-rope switch cuts lowering where the rope is slack; a stiff one also with a light load on the way."""

    def __init__(self, way_m: float, stiff: float) -> None:
        self._way_m, self._stiff = way_m, stiff
        self.slack, self._reset_at = False, 0.0

    def changed(self, signal: str, on: bool) -> None:
        if on and signal == "hoist.lower.contactor":
            misacts = self.happens(self._stiff) and self.crane.hook.tension < 0.3 * self.crane.build.rated_kg
            after = self.rng.uniform(0.3, 3.0) if misacts else None
            self._look(self.crane.drives["hoist"].runs, None if after is None else self.crane.engine.now + after)
        elif on and signal == "hoist.raise.contactor":
            self._taut(self.crane.drives["hoist"].runs)

    def _look(self, run: int, misacts: float | None) -> None:
        crane, drive = self.crane, self.crane.drives["hoist"]
        if drive.runs != run or drive.direction != "lower":
            return
        place, hook = drive.axis.position, crane.hook
        if hook.mass > 0.0 and place < hook.support - self._way_m:
            self._act(hook.support - 0.5 * self._way_m)
        elif misacts is not None and crane.engine.now >= misacts:
            self._act(place + 0.01)
        else:
            crane.engine.after(0.1, partial(self._look, run, misacts))

    def _act(self, reset_at: float) -> None:
        self.slack, self._reset_at = True, reset_at
        self.crane.set("rope.slack", True)
        drive = self.crane.drives["hoist"]
        drive.relay_ok["lower"] = False
        drive.feed()

    def _taut(self, run: int) -> None:
        drive = self.crane.drives["hoist"]
        if not self.slack:
            return
        if drive.axis.position >= self._reset_at:
            self.slack = False
            self.crane.set("rope.slack", False)
        elif drive.runs == run and drive.direction == "raise":
            self.crane.engine.after(0.1, partial(self._taut, run))

    def relay_dead(self, direction: str) -> bool:
        return direction == "hoist.lower" and self.slack


def slack_rope(rng: random.Random, days: int) -> Plan:
    """Landing run-on, or a slack-rope switch that acts with light loads."""
    if rng.random() < 0.6:
        return Plan((_SlackSwitch(rng.uniform(0.10, 0.14), 0.0),), direction="lower", people=_RunOn)
    return Plan((_SlackSwitch(0.14, rng.uniform(0.04, 0.12)),), direction="lower")


class _MovedLimit(Trouble):
    """The cam of the upper limit has slipped: it acts sooner, and sooner still each day."""

    def __init__(self, early: Course) -> None:
        self._early, self._marks = early, list[Mark]()

    def new_day(self, day: int) -> None:
        early = self._early.at(day)
        axis = self.crane.drives["hoist"].axis
        for mark in self._marks:
            axis.unmark(mark)
        if early > 0.0:
            place = self.crane.drives["hoist"].way_m - early
            self._marks = [axis.mark(place, self._reach), axis.mark(place - 0.02, self._leave)]

    def _reach(self, up: bool) -> None:
        if up:
            self.crane.set("hoist.raise.limit", True)

    def _leave(self, up: bool) -> None:
        if not up:
            self.crane.set("hoist.raise.limit", False)


class _FlickeringLimit(Trouble):
    """The contact of the upper limit opens for moments while the hook moves, at any height."""

    def __init__(self, share: Course) -> None:
        self._share = share

    def changed(self, signal: str, on: bool) -> None:
        if signal in ("hoist.raise.contactor", "hoist.lower.contactor") and on:
            at = 0.0
            while self.happens(self._share.at(self.day)):
                at += self.rng.expovariate(1 / 1.0)
                for number in range(self.rng.randint(1, 5)):
                    self.crane.engine.after(at + 0.12 * number, self._open)

    def _open(self) -> None:
        if self.crane.drives["hoist"].brake.on:
            self.crane.open_wire(["hoist.raise.limit"], self.rng.uniform(0.03, 0.09))


def limit_fault(rng: random.Random, days: int) -> Plan:
    """The upper limit acts too early, or flickers."""
    onset = rng.uniform(0.1, 0.5) * days
    if rng.random() < 0.6:
        first = rng.uniform(0.3, 0.8)
        return Plan((_MovedLimit(Course(onset, first, first + rng.uniform(0.01, 1.0), days)),), direction="raise")
    return Plan((_FlickeringLimit(Course(onset, 0.02, rng.uniform(0.04, 0.12), days)),), direction="raise")


CAUSES = {
    "overload_low": overload_low,
    "overload_high": overload_high,
    "overload_sensor": overload_sensor,
    "slack_rope": slack_rope,
    "limit_fault": limit_fault,
}
"""Cause -> what it makes of a machine."""
