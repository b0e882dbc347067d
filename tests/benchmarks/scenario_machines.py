"""The machines of the diagnostic scenarios: logs with the counts, times and courses that each scenario states.

Each is a machine in order with one `Trouble` that acts at drawn occasions, exactly as often as the scenario says.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from types import MappingProxyType
from typing import Final

from eventlens.simulation import Scenario, Simulated, simulate
from eventlens.simulation.causes import FULL
from eventlens.simulation.causes.machine import DAY_S, FaultyCrane, FaultyDice, Trouble
from eventlens.simulation.causes.plan import Uneven
from eventlens.simulation.causes.supplies import phase_feeder_of
from eventlens.simulation.faults import Dice, Faults
from eventlens.simulation.hoist import Build
from eventlens.simulation.operator import Operator


class Appointed(Trouble):
    """Acts at so many occasions, each at the first one after an instant drawn between two days."""

    hours: tuple[tuple[float, float], ...] = ((6.3, 9.7), (14.3, 17.7))
    """Hours of the day in which they lie."""

    def __init__(self, spans: Sequence[tuple[int, int, int]]) -> None:
        self._spans = spans
        """First day, day after the last, how often; day 0 is a Monday, and nobody works at week-ends."""

    def begin(self) -> None:
        self.dates = sorted(self._drawn(*span) for span in self._spans for _ in range(span[2]))

    def _drawn(self, first: int, last: int, count: int) -> float:
        day = self.rng.choice([day for day in range(first, last) if day % 7 < 5])
        return (day + self.rng.uniform(*self.rng.choice(self.hours)) / 24.0) * DAY_S

    def due(self) -> bool:
        """An appointment is due: it is kept now."""
        if self.dates and self.crane.engine.now >= self.dates[0]:
            self.dates.pop(0)
            return True
        return False


class LooseRelay(Appointed):
    """Raise falls 0.2 to 0.6 s after the release and stays off until it is pressed again."""

    def changed(self, signal: str, on: bool) -> None:
        drive = self.crane.drives["hoist"]
        if signal == "hoist.brake.released" and on and drive.direction == "raise" and self.due():
            self.crane.engine.after(self.rng.uniform(0.2, 0.6), partial(self._fall, drive.runs))

    def _fall(self, run: int) -> None:
        drive = self.crane.drives["hoist"]
        if drive.runs != run or drive.direction is None:
            self.dates.insert(0, self.crane.engine.now)  # it was let go before: the next one then
            return
        drive.relay_ok["raise"] = False
        drive.feed()


class WornLining(Trouble):
    """Release 0.17 s, 0.21 s after two months, 0.34 s after four; set time 0.11 to 0.07 s; at last no release."""

    def __init__(self, misses: tuple[tuple[float, bool], ...]) -> None:
        self._misses = list(misses)
        """(from which day on, only the first run after a night)."""
        self._last = 0.0

    def release_factor(self) -> float:
        day = min(self.day, 120.0)
        return (0.17 + 0.04 * day / 60.0 if day < 60.0 else 0.21 + 0.13 * (day - 60.0) / 60.0) / 0.17

    def apply_factor(self) -> float:
        return (0.11 - 0.04 * min(self.day / 120.0, 1.0)) / 0.11

    def brake_sticks(self) -> bool:
        rested, self._last = self.crane.engine.now - self._last > 8 * 3600.0, self.crane.engine.now
        if self._misses and self.day >= self._misses[0][0] and rested == self._misses[0][1]:
            self._misses.pop(0)
            return True
        return False


class HalfRectifier(Trouble):
    """From a Tuesday on 0.31 s instead of 0.18, set 0.08 s instead of 0.10; nine misses, eight in hot busy hours."""

    def __init__(self, onset: int) -> None:
        self._onset, self._hot, self._cool = onset, 8, 1
        self._starts: list[float] = []
        self._next = 0.0

    def begin(self) -> None:
        self.crane.engine.at(self._onset * DAY_S - 4 * 3600.0, lambda: self.crane.blackout(1.0))

    def _half(self) -> bool:
        return self.day >= self._onset

    def release_factor(self) -> float:
        return 0.31 / 0.18 if self._half() else 1.0

    def apply_factor(self) -> float:
        return 0.8 if self._half() else 1.0

    def brake_sticks(self) -> bool:
        now = self.crane.engine.now
        self._starts = [*[at for at in self._starts if at > now - 3600.0], now]
        busy, afternoon = len(self._starts) > 40, (now % DAY_S) > 11 * 3600.0
        if not self._half() or now < self._next:
            return False
        if busy and afternoon and self._hot and self.happens(0.3):
            self._hot, self._next = self._hot - 1, now + 900.0
            return True
        if not busy and self._cool and self.day > self._onset + 5:
            self._cool -= 1
            return True
        return False


class MorningDips(Appointed):
    """Everything falls for 60 to 140 ms while something runs, most of it from 06:55 to 07:10."""

    def __init__(self, spans: Sequence[tuple[float, float, int]], others: int) -> None:
        super().__init__(spans)
        self._others = others
        self.hours = ((0.0, 0.1),)

    def changed(self, signal: str, on: bool) -> None:
        if not on or not signal.endswith(".contactor") or ".fast." in signal:
            return
        clock = self.crane.engine.now % DAY_S / 3600.0
        if 6.917 <= clock <= 7.167:
            if self.due():
                self.crane.engine.after(self.rng.uniform(0.2, 1.0), self._dip)
        elif self._others and clock > 8.0 and self.happens(0.002):
            self._others -= 1
            self.crane.engine.after(self.rng.uniform(0.2, 1.0), self._dip)

    def _dip(self) -> None:
        if any(drive.direction for drive in self.crane.drives.values()):
            self.crane.blackout(self.rng.uniform(0.06, 0.14))
        else:
            self.dates.insert(0, self.crane.engine.now)


class LooseCommon(Appointed):
    """Everything on one common falls for 20 to 200 ms: within 2 s of a travel's start or stop, or anywhere."""

    def __init__(self, spans: Sequence[tuple[float, float, int]], anywhere: int) -> None:
        super().__init__(spans)
        self._anywhere = anywhere

    def changed(self, signal: str, on: bool) -> None:
        motion, _, kind = signal.partition(".")
        if not kind.endswith(".contactor") or kind.startswith("fast"):
            return
        if motion != "hoist" and self.due():
            self.crane.engine.after(self.rng.uniform(0.1, 1.2), self._open)
        elif motion == "hoist" and on and self._anywhere and self.happens(0.01):
            self._anywhere -= 1
            self.crane.engine.after(self.rng.uniform(0.1, 1.5), self._open)

    def _open(self) -> None:
        crane, seconds = self.crane, self.rng.uniform(0.02, 0.2)
        other = ("supply.control", "supply.phase_fault", "stop.emergency", "overload.trip")
        crane.open_wire([name for name in crane.state if name not in other], seconds)
        crane.unfeed(seconds)


class BrokenCores(Trouble):
    """Gaps of 30 to 400 ms: so many of each command, nearly all with the bridge moving or just after."""

    def __init__(self, counts: Mapping[str, int], resting: int) -> None:
        self._left, self._resting, self._moved = dict(counts), resting, -1e9

    def changed(self, signal: str, on: bool) -> None:
        if signal.startswith("bridge.") and signal.endswith(".contactor"):
            self._moved = self.crane.engine.now

    def pressed(self, signal: str, on: bool) -> None:
        if not on or self._left.get(signal, 0) <= 0 or self.day < 3:
            return
        moving = self.crane.drives["bridge"].direction is not None or self.crane.engine.now - self._moved < 4.0
        if not moving and not (self._resting and self.happens(0.01)):
            return
        if moving and not self.happens(0.12):
            return
        self._resting -= not moving
        self.crane.engine.after(self.rng.uniform(0.3, 1.5), partial(self._open, signal))

    def _open(self, signal: str) -> None:
        if self.crane.held.get(signal, False):
            self._left[signal] -= 1
            self.crane.open_wire([signal], min(0.03 + self.rng.expovariate(1 / 0.08), 0.4))


class DriftedZero(Trouble):
    """The empty hook reads 1 %, 4 % and 9 % in the course; the device acts now and then with hardly a load."""

    def __init__(self, trips: int, light: int) -> None:
        self._light, self._others, self._next = light, trips - light, 0.0

    def weighs(self, kg: float) -> float:
        part = min(self.day / 120.0, 1.0)
        share = 0.01 + 0.06 * part if part < 0.5 else 0.04 + 0.10 * (part - 0.5)
        return kg + share * self.crane.build.rated_kg

    def changed(self, signal: str, on: bool) -> None:
        now = self.crane.engine.now
        if signal != "hoist.raise.contactor" or not on or now < self._next or self.day < 40:
            return
        light, morning = self.crane.hook.tension < 0.15 * self.crane.build.rated_kg, now % DAY_S < 9 * 3600.0
        if light and morning and self._light and self.crane.hook.mass == 0.0:
            self._light -= 1
        elif not light and self._others and self.happens(0.05):
            self._others -= 1
        else:
            return
        self._next = now + self.rng.uniform(2.0, 5.0) * DAY_S
        self.crane.engine.after(self.rng.uniform(1.1, 2.0), lambda: self._trip(True))

    def _trip(self, on: bool) -> None:
        self.crane.set("overload.trip", on)
        if on:
            self.crane.engine.after(self.rng.uniform(2.0, 4.0), lambda: self._trip(False))


class NeverConfirmed(Appointed):
    """The run is not confirmed, in both directions, at random."""

    def brake_sticks(self) -> bool:
        return self.due()


class Blackouts(Appointed):
    """Everything falls for 0.2 to 1 s while something runs: half of it with the trolley, half with the hoist."""

    def changed(self, signal: str, on: bool) -> None:
        wanted = "trolley" if len(self.dates) % 2 else "hoist"
        if on and signal.startswith(wanted) and signal.endswith(".contactor") and ".fast." not in signal:
            self._perhaps()

    def _perhaps(self) -> None:
        if self.due():
            after, seconds = self.rng.uniform(0.3, 1.0), self.rng.uniform(0.2, 1.0)
            self.crane.engine.after(after, lambda: self.crane.blackout(seconds))


class Reversing(Uneven):
    """People who stop by driving the other way, very often."""

    def _land(self, support: float) -> None:
        for number in range(10):
            self.hold("hoist", ("lower", "raise")[number % 2], seconds=self._about(0.4, 0.2))
        super()._land(support)


class Walking(Uneven):
    """People who move the hook a little when the bridge has arrived, still walking."""

    def _travel(self) -> None:
        bridge = self._crane.drives["bridge"]
        self.go("bridge", bridge.way_m * self._rng.uniform(0.1, 0.9))
        self._wait(0.6)
        self.hold("hoist", self._rng.choice(("raise", "lower")), seconds=self._about(2.0))
        if self._chance(0.6):
            self.go("bridge", bridge.axis.position + self._rng.choice((-1.0, 1.0)))
            self._wait(0.6)
            trolley = self._crane.drives["trolley"]
            self.go("trolley", trolley.way_m * self._rng.uniform(0.1, 0.9))


class Snatching(Uneven):
    """Twelve pick-ups in fast from a slack rope, ten of them late in the day, each repeated slowly."""

    _late, _early, _busy = 10, 2, 0.0

    def _load(self) -> float:
        return self._crane.build.rated_kg * self._rng.uniform(0.38, 0.58)

    def _lift(self, support: float) -> bool:
        late = self._engine.now % DAY_S > 13 * 3600.0
        left = self._late if late else self._early
        if left and self._engine.now > self._busy and self._engine.now > 4 * DAY_S and self._chance(0.3):
            drive = self._hoist
            self.go("hoist", support - drive.speeds.fast * self._rng.uniform(0.12, 0.3), tolerance=0.02)
            self._wait(1.5)
            if self.hold("hoist", "raise", to=support + 0.5, fast=True) == "overload":
                if late:
                    self._late -= 1
                else:
                    self._early -= 1
                self._busy = self._engine.now + DAY_S
            self._wait(1.0)
            self.go("hoist", support - 0.05, tolerance=0.03, fast=False)
        return super()._lift(support)


@dataclass(frozen=True)
class Setting:
    """How a scenario is simulated."""

    troubles: Callable[[], Sequence[Trouble]]
    days: int
    hoist: Mapping[str, float] = field(default_factory=dict)
    habits: Mapping[str, float] = field(default_factory=dict)
    control: Mapping[str, float] = field(default_factory=dict)
    people: type[Operator] = Uneven
    signals: tuple[str, ...] = FULL
    shifts: tuple[tuple[float, float], ...] = ((6.0, 10.0), (14.0, 18.0))
    workdays: tuple[int, ...] = (0, 1, 2, 3, 4)


QUIET: Final = MappingProxyType(
    {"cycles_per_h": 1.2, "snatch": 0.0, "emergency_stop": 0.0, "jog": 0.0, "park_at_limit": 0.0, "daily_test": 1.0}
)
PLAIN: Final = tuple(
    name
    for name in FULL
    if name.startswith(("hoist.", "trolley.", "bridge.")) and not name.endswith(("_m", ".hot", ".fast.contactor"))
)
"""No supply, no positions, no overload device."""
BRAKE: Final = tuple(name for name in PLAIN if name.startswith("hoist.") and not name.endswith((".limit", ".slowdown")))

SETTINGS: Final = MappingProxyType(
    {
        "S01": Setting(
            lambda: (LooseRelay(((14, 55, 14),)),),
            56,
            hoist={"apply_s": 0.024, "contactor_open_s": 0.008, "scatter": 0.04},
            habits={"travel": 0.9},
            control={"supervised_share": 1.0},
        ),
        "S03": Setting(
            lambda: (WornLining(((122.0, True), (126.0, True), (129.0, False), (131.0, True))),),
            136,
            hoist={"release_s": 0.17, "apply_s": 0.11, "cold_s": 0.0, "scatter": 0.05},
            habits={"cycles_per_h": 0.8},
            control={"dwell_s": 0.02, "brake_timeout_s": 1.2},
            people=Reversing,
            workdays=(0, 2, 4),
        ),
        "S04": Setting(
            lambda: (HalfRectifier(22),),
            43,
            hoist={"release_s": 0.18, "apply_s": 0.10, "cold_s": 0.0, "scatter": 0.05},
            habits={"cycles_per_h": 3.0},
            control={"brake_timeout_s": 1.2},
        ),
        "S06": Setting(
            lambda: (MorningDips(((0, 45, 27),), 4),), 46, habits={"cycles_per_h": 2.5}, shifts=((6.8, 12.0),)
        ),
        "S07": Setting(
            lambda: (LooseCommon(((0, 5, 2), (7, 12, 4), (14, 19, 7), (21, 26, 17)), 8),),
            28,
            habits={"travel": 1.0},
        ),
        "S09": Setting(
            lambda: (
                BrokenCores(
                    {
                        "hoist.raise.command": 19,
                        "hoist.lower.command": 14,
                        "trolley.left.command": 12,
                        "bridge.forward.command": 7,
                    },
                    8,
                ),
            ),
            56,
            people=Walking,
        ),
        "S10": Setting(
            lambda: (),
            60,
            hoist={"fast_mps": 0.42, "slow_mps": 0.05, "stretch_m": 0.02, "filter_s": 0.02, "trip_share": 1.1},
            habits={"near_rated": 0.0},
            control={"speed_change_s": 0.4},
            people=Snatching,
            shifts=((6.0, 11.0), (14.0, 18.0)),
        ),
        "S11": Setting(lambda: (DriftedZero(18, 14),), 130, habits={"cycles_per_h": 0.9, "near_rated": 0.0}),
        "S13": Setting(lambda: (NeverConfirmed(((1, 54, 11),)),), 56, control={"brake_timeout_s": 1.5}, signals=BRAKE),
        "S15": Setting(lambda: (Blackouts(((1, 40, 8),)),), 42, habits={"travel": 0.9}, signals=PLAIN),
        "S18": Setting(lambda: (phase_feeder_of(0.001, 0.019, 0.2),), 22, habits={"travel": 1.0, "cycles_per_h": 2.5}),
    }
)
"""Scenario -> how it is simulated."""


def simulated(name: str, seed: int = 0, *, step_s: float = 0.01) -> Simulated:
    """The log of a scenario."""
    setting = SETTINGS[name]

    def machine(build: Build, dice: Dice, rng: random.Random) -> FaultyCrane:
        return FaultyCrane(build, FaultyDice(Faults(), seed, tuple(setting.troubles())), rng, setting.days, seed)

    scenario = Scenario(
        id=name,
        hoist=setting.hoist,
        control=setting.control,
        habits={**QUIET, **setting.habits},
        shifts=setting.shifts,
        workdays=setting.workdays,
        start=date(2026, 1, 5),
        signals=setting.signals,
        heartbeat_s=600.0,
    )
    return simulate(scenario, seed=seed, days=setting.days, step_s=step_s, machine=machine, people=setting.people)
