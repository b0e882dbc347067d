"""Causes in relays, contactors, their contacts and interlocks, and in the chain to fast."""

from __future__ import annotations

import random
from functools import partial

from eventlens.signals import opposite
from eventlens.simulation.causes.machine import Trouble
from eventlens.simulation.causes.plan import Course, Daily, Plan, Uneven
from eventlens.simulation.faults import Faults


def _hoist_way(rng: random.Random) -> str:
    return "raise" if rng.random() < 0.65 else "lower"


def interface_relay(rng: random.Random, days: int) -> Plan:
    """The plug-in relay of one direction is loose: the jerk of the start shakes it open, vibration later on."""
    motion, way = ("hoist", _hoist_way(rng)) if rng.random() < 0.8 else ("bridge", rng.choice(("forward", "reverse")))
    name = f"{motion}.{way}"
    shaken = Course(rng.uniform(0.0, 0.5) * days, rng.uniform(0.01, 0.03), rng.uniform(0.04, 0.12), days)
    dead, running = rng.choice((0.0, 0.2)), rng.uniform(0.0, 2.0)
    return Plan(
        (
            Daily(
                lambda day: Faults(
                    loose_relay={name: shaken.at(day)},
                    loose_relay_per_h=running if day >= shaken.onset else 0.0,
                    dead_relay={name: dead * shaken.at(day)},
                )
            ),
        ),
        motion=motion,
        direction=way,
    )


class _WeakMagnet(Trouble):
    """One contactor hums and lets go for moments, and closes late; more so when it is warm."""

    def __init__(self, way: str, often: Course, warmth: float) -> None:
        self._way, self._often, self._warmth = way, often, warmth

    def _share(self) -> float:
        return self._often.at(self.day) * (1.0 + self._warmth * self.crane.winding.heat)

    def closes_late(self, output: str) -> float:
        if output != self._way or not self.happens(2.0 * self._share()):
            return 0.0
        return self.rng.uniform(0.05, 0.6)

    def changed(self, signal: str, on: bool) -> None:
        if signal == f"hoist.{self._way}.contactor" and on and self.happens(self._share()):
            run, at = self.crane.drives["hoist"].runs, self.rng.expovariate(1 / 0.5)
            for _ in range(self.rng.randint(2, 7)):
                self.crane.engine.after(at, partial(self._let_go, run))
                at += self.rng.uniform(0.08, 0.18)

    def _let_go(self, run: int) -> None:
        drive = self.crane.drives["hoist"]
        if drive.output[self._way] and drive.runs - run < 8:
            self.crane.open_relay("hoist", self._way, self.rng.uniform(0.02, 0.05))


def contactor_coil(rng: random.Random, days: int) -> Plan:
    """A weak coil or a dirty magnet of one contactor."""
    way = _hoist_way(rng)
    often = Course(rng.uniform(0.0, 0.3) * days, rng.uniform(0.005, 0.015), rng.uniform(0.02, 0.06), days)
    unsupervised = {"supervised_share": 0.0 if rng.random() < 0.6 else 1.0}
    return Plan((_WeakMagnet(way, often, rng.uniform(5.0, 20.0)),), direction=way, control=unsupervised)


class _WornPole(Trouble):
    """In one direction the motor runs on two phases now and then: it heats, and the phase relay cuts the control."""

    def __init__(self, way: str, often: Course, heating: int) -> None:
        self._way, self._often, self._heating = way, often, heating

    def changed(self, signal: str, on: bool) -> None:
        if signal != f"hoist.{self._way}.contactor" or not on:
            return
        share = self._often.at(self.day)
        for _ in range(round(self._heating * share / 0.05)):
            self.crane.winding.run(True)
        if self.happens(share):
            run, after = self.crane.drives["hoist"].runs, self.rng.uniform(0.1, 1.5)
            self.crane.engine.after(after, partial(self._two_phases, run))

    def _two_phases(self, run: int) -> None:
        drive, crane = self.crane.drives["hoist"], self.crane
        if drive.runs != run or drive.direction != self._way:
            return
        crane.set("supply.phase_fault", True)
        seconds = self.rng.uniform(0.5, 1.5)
        crane.unfeed(seconds)
        crane.engine.after(seconds, lambda: crane.set("supply.phase_fault", False))


def main_contact_worn(rng: random.Random, days: int) -> Plan:
    """One pole of one direction's contactor is burnt."""
    way = _hoist_way(rng)
    often = Course(rng.uniform(0.0, 0.4) * days, rng.uniform(0.01, 0.02), rng.uniform(0.05, 0.12), days)
    return Plan((_WornPole(way, often, rng.randint(4, 15)),), direction=way, habits={"jog": rng.uniform(0.02, 0.1)})


class _Welded(Trouble):
    """One contactor hangs on after it was switched off."""

    def __init__(self, way: str, often: Course, longest: float) -> None:
        self._way, self._often, self._longest = way, often, longest

    def stays_closed(self, motion: str, output: str) -> float | None:
        if motion != "hoist" or output != self._way or not self.happens(self._often.at(self.day)):
            return None
        return self.rng.uniform(0.3, self._longest)


def main_contact_weld(rng: random.Random, days: int) -> Plan:
    """The main contacts of one direction weld lightly, on a machine that is inched a good deal."""
    way = _hoist_way(rng)
    often = Course(rng.uniform(0.1, 0.5) * days, rng.uniform(0.005, 0.01), rng.uniform(0.01, 0.04), days)
    jogs = {"jog": rng.uniform(0.1, 0.5)}
    return Plan((_Welded(way, often, rng.uniform(1.0, 6.0)),), direction=way, habits=jogs)


class _Feedback(Trouble):
    """The auxiliary contact that reports the contactor opens for a while; the contactor itself holds."""

    def __init__(self, way: str, often: Course, longest: float) -> None:
        self._signal, self._often, self._longest = f"hoist.{way}.contactor", often, longest

    def changed(self, signal: str, on: bool) -> None:
        if signal != self._signal or not on or not self.happens(self._often.at(self.day)):
            return
        after = 0.0 if self.rng.random() < 0.3 else self.rng.expovariate(1 / 0.8)
        self.crane.engine.after(after, self._open)

    def _open(self) -> None:
        if self.crane.true[self._signal]:
            self.crane.open_wire([self._signal], self.rng.uniform(0.05, self._longest))


class _SealIn(Trouble):
    """The seal-in contact bounces at the pull-in: the contactor falls and stays off until the next press."""

    def __init__(self, way: str, often: Course) -> None:
        self._way, self._often, self._broken = way, often, False

    def changed(self, signal: str, on: bool) -> None:
        if signal == f"hoist.{self._way}.contactor" and on and self.happens(self._often.at(self.day)):
            self.crane.engine.after(self.rng.expovariate(1 / 0.3), self._fall)

    def _fall(self) -> None:
        drive = self.crane.drives["hoist"]
        if drive.direction == self._way and drive.output[self._way]:
            drive.relay_ok[self._way] = False  # made good at the next output
            drive.feed()


def aux_contact(rng: random.Random, days: int) -> Plan:
    """The auxiliary contact of one direction: its report (the contactor holds), or the seal-in."""
    way = _hoist_way(rng)
    often = Course(rng.uniform(0.0, 0.4) * days, rng.uniform(0.01, 0.03), rng.uniform(0.04, 0.12), days)
    if rng.random() < 0.6:
        report = _Feedback(way, often, rng.uniform(0.5, 5.0))
        return Plan((report,), direction=way, control={"supervised_share": 0.0})
    return Plan((_SealIn(way, often),), direction=way)


class _Interlock(Trouble):
    """The opening contact of the other direction does not close at once after that direction."""

    def __init__(self, way: str, share: Course, seconds: float) -> None:
        self._way, self._share, self._seconds = way, share, seconds
        self._other_off, self._open_until = float("-inf"), float("-inf")

    def changed(self, signal: str, on: bool) -> None:
        if signal == f"hoist.{opposite('hoist', self._way)}.contactor" and not on:
            now = self.crane.engine.now
            if self.happens(self._share.at(self.day)):
                self._open_until = now + self.rng.uniform(0.5, 1.0) * self._seconds

    def relay_dead(self, direction: str) -> bool:
        return direction == f"hoist.{self._way}" and self.crane.engine.now < self._open_until


class _Fitting(Uneven):
    """People who fit their loads up and down before they let them land."""

    def _land(self, support: float) -> None:
        if self._chance(0.5):
            for number in range(self._rng.randint(2, 5)):
                self.hold("hoist", ("lower", "raise")[number % 2], seconds=self._about(1.3, 0.2))
                self._wait(0.7)
        super()._land(support)


def interlock(rng: random.Random, days: int) -> Plan:
    """One direction refuses for seconds after the other."""
    way = _hoist_way(rng)
    share = Course(rng.uniform(0.0, 0.3) * days, rng.uniform(0.1, 0.2), rng.uniform(0.2, 0.5), days)
    return Plan(
        (_Interlock(way, share, rng.uniform(3.0, 6.0)),),
        direction=way,
        people=_Fitting,
    )


def speed_timer(rng: random.Random, days: int) -> Plan:
    """The delay from slow to fast is missing, or set short, from one day on."""
    onset, left = int(rng.uniform(0.2, 0.6) * days), rng.uniform(0.08, 0.22)
    rates = (
        Faults(timer_missing=1.0) if rng.random() < 0.5 else Faults(timer_short=1.0, timer_short_s=(left, left + 0.01))
    )
    return Plan((Daily(lambda day: rates if day >= onset else Faults()),))


class _FastContactor(Trouble):
    """The fast contactor does not pull in, or lets go under its command."""

    def __init__(self, dead: Course, drops: Course) -> None:
        self._dead, self._drops = dead, drops

    def fast_dead(self) -> bool:
        return self.happens(self._dead.at(self.day))

    def changed(self, signal: str, on: bool) -> None:
        if signal == "hoist.fast.contactor" and on and self.happens(self._drops.at(self.day)):
            after = self.rng.expovariate(1 / 0.8)
            self.crane.engine.after(after, partial(self._let_go, self.crane.drives["hoist"].runs))

    def _let_go(self, run: int) -> None:
        drive = self.crane.drives["hoist"]
        if drive.runs == run and drive.output["fast"]:
            self.crane.open_relay("hoist", "fast", self.rng.uniform(0.3, 3.0))


def fast_contactor(rng: random.Random, days: int) -> Plan:
    """The fast contactor of the hoist or its chain."""
    onset = rng.uniform(0.0, 0.4) * days
    dead = Course(onset, rng.uniform(0.02, 0.06), rng.uniform(0.1, 0.5), days)
    drops = Course(onset, rng.uniform(0.005, 0.02), rng.uniform(0.02, 0.1), days)
    return Plan((_FastContactor(dead, drops),))


CAUSES = {
    "interface_relay": interface_relay,
    "contactor_coil": contactor_coil,
    "main_contact_worn": main_contact_worn,
    "main_contact_weld": main_contact_weld,
    "aux_contact": aux_contact,
    "interlock": interlock,
    "speed_timer": speed_timer,
    "fast_contactor": fast_contactor,
}
"""Cause -> what it makes of a machine."""
