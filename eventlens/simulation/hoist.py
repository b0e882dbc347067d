"""The whole machine: hoist, trolley and bridge with their contactors, brakes and limits, wired to the controller.

`press` is the only thing people can do to it; everything else follows from physics and logic. Every change of a
signal is kept in `tracks` with its exact time, whatever a logger will make of it.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import Final

from eventlens.signals import MOTIONS
from eventlens.simulation.chatter import Chatter
from eventlens.simulation.controller import ControlSettings, MotionControl, Scanner
from eventlens.simulation.drive import Drive, Speeds, Times
from eventlens.simulation.engine import Engine
from eventlens.simulation.faults import Dice
from eventlens.simulation.load import Hook, OverloadDevice, OverloadSettings
from eventlens.simulation.plant import Winding
from eventlens.simulation.traits import ControlTraits, HoistTraits, TravelTraits
from eventlens.simulation.truth import Recorder

UNALLOWED: Final = 1.25
"""Share of the rated load at which an indirect overload device acts at the latest (EN 14492-2, from memory)."""
HEAVY: Final = "load.unallowed"
"""Track of the hidden machine: the rope carries more than that. No logger carries it."""


@dataclass(frozen=True)
class Build:
    """What a machine is built of."""

    rated_kg: float
    hoist: HoistTraits
    travels: dict[str, TravelTraits]
    control: ControlTraits
    supervised: bool
    """The controller supervises contactor feedback."""
    cell_share: float | None = None
    """Steps, in shares of the rated load, in which the load cell follows a rope that goes taut or slack; None: it tells
    only of loads that hang, and when the hoist stops."""


class Crane:
    """Hoist, trolley and bridge under one controller."""

    def __init__(self, build: Build, dice: Dice, rng: random.Random) -> None:
        self.engine, self.build, self.dice = Engine(), build, dice
        self.recorder = Recorder()
        self.tracks: dict[str, list[tuple[float, float]]] = {}
        self.state: dict[str, bool] = {}
        self._scanner = Scanner(build.control.scan_s, self.engine.at)
        self._lay_signals()
        self.logic = {motion: self._logic_of(motion) for motion in MOTIONS}
        self._scanner.logics = list(self.logic.values())
        self._build_drives(rng)
        self._build_load()
        self._chatter = Chatter(self, dice.faults.chatter, dice.chatter_rng)
        hoist = build.hoist
        self.winding = Winding(
            self.engine,
            hoist.heat_tau_s,
            hoist.heat_steady,
            hoist.heat_kick,
            0.85,
            lambda hot: self.set("hoist.motor.hot", hot),
        )

    # Building

    def _lay_signals(self) -> None:
        for motion, directions in MOTIONS.items():
            kinds = [f"{way}.{kind}" for way in directions for kind in ("command", "contactor", "limit", "slowdown")]
            for kind in (*kinds, "fast.command", "fast.contactor", "brake.released", "motor.hot"):
                self.state[f"{motion}.{kind}"] = False
        self.state |= {"overload.trip": False, "stop.emergency": False, "supply.control": True}
        if self.dice.faults.device_fault_per_day > 0.0:
            self.state["overload.fault"] = False
        self.tracks = {signal: [(0.0, float(on))] for signal, on in self.state.items()}
        self.tracks["load.kg"] = [(0.0, 0.0)]
        self.tracks[HEAVY] = [(0.0, 0.0)]

    def _logic_of(self, motion: str) -> MotionControl:
        control, monitored = self.build.control, motion == "hoist"
        travel = self.build.travels.get(motion)
        settings = ControlSettings(
            speed_change_s=control.speed_change_s if travel is None else travel.step_up_s,
            dwell_s=control.dwell_s if travel is None else travel.dwell_s,
            brake_timeout_s=control.brake_timeout_s if monitored else None,
            brake_loss_s=control.brake_loss_s,
            feedback_timeout_s=control.feedback_timeout_s,
            supervises_feedback=self.build.supervised,
            interlocked=not self.dice.faults.interlock_lost,
        )
        return MotionControl(motion, settings, self)

    def _build_drives(self, rng: random.Random) -> None:
        hoist = self.build.hoist
        speeds = Speeds(hoist.slow_mps, hoist.fast_mps, hoist.accelerate_s, hoist.brake_s)
        self.drives = {"hoist": Drive(self, "hoist", hoist.lift_m, speeds, Times(hoist, rng))}
        for motion, travel in self.build.travels.items():
            speeds = Speeds(travel.slow_mps, travel.fast_mps, travel.accelerate_s, travel.brake_s)
            self.drives[motion] = Drive(self, motion, travel.way_m, speeds, Times(travel, rng))

    def _build_load(self) -> None:
        hoist, rated = self.build.hoist, self.build.rated_kg
        trip = rated * hoist.trip_share * self.dice.faults.trip_level
        settings = OverloadSettings(trip, trip * hoist.reset_share, hoist.filter_s, hoist.hold_s)
        self.overload = OverloadDevice(self.engine, settings, self._tripped)
        self.hook = Hook(
            self.engine,
            self.drives["hoist"].axis,
            hoist.stretch_m / rated,
            self.overload,
            self._weighed,
            heavy=(UNALLOWED * rated, self._heavy),
            cell_kg=None if self.build.cell_share is None else self.build.cell_share * rated,
        )

    # What happens

    @property
    def fed(self) -> bool:
        """Coils are fed: control supply there, emergency stop not operated."""
        return self.state["supply.control"] and not self.state["stop.emergency"]

    def set(self, signal: str, on: bool) -> None:
        """A signal changes now; the controller reads it at its next scan."""
        if self.state[signal] == on:
            return
        self.state[signal] = on
        self.tracks[signal].append((self.engine.now, float(on)))
        self._scanner.request(self.engine.now)

    def press(self, signal: str, on: bool) -> None:
        """A button, the stop or the supply changes."""
        loose = signal in self._chatter.loose
        if self.state[signal] == on and not loose:
            return
        self._chatter.loose.discard(signal)
        self.set(signal, on)
        motion, _, rest = signal.partition(".")
        if self.dice.faults.chatter and motion in MOTIONS and not rest.startswith("fast"):
            self._chatter.pressed(signal, on)
        if motion in MOTIONS:
            self.recorder.command(motion, rest.removesuffix(".command"), on, self.engine.now)
        else:
            for drive in self.drives.values():
                drive.feed()

    def heat(self, motion: str, running: bool) -> None:
        """The motor of the hoist starts or stops."""
        if motion == "hoist":
            self.winding.run(running)
            if not running:
                self._weighed()

    def brake_extra_s(self) -> float:
        """What cold and wear add to the release of the hoist's brake [s]; it warms with the motor."""
        return self.build.hoist.cold_s * max(0.0, 1.0 - 2.0 * self.winding.heat) + self.dice.faults.lining_wear_s

    def _tripped(self, on: bool) -> None:
        self.recorder.trip(on, self.engine.now)
        self.set("overload.trip", on)

    def _heavy(self, on: bool) -> None:
        """The rope carries more, or no more, than any device may let pass."""
        if (self.tracks[HEAVY][-1][1] > 0.5) != on:
            self.tracks[HEAVY].append((self.engine.now, float(on)))

    def _weighed(self) -> None:
        """The load cell gives a new value where it differs by more than one per cent of the rated load."""
        track, load = self.tracks["load.kg"], round(self.hook.tension / 5.0) * 5.0
        if abs(load - track[-1][1]) > 0.01 * self.build.rated_kg:
            track.append((self.engine.now, load))

    # What the controller sees and does (controller.Outside)

    def read(self, signal: str) -> bool:
        """An input as it stands now."""
        if signal == "overload.trip" and self.state.get("overload.fault", False):
            return True  # a device that does not work refuses lifting
        return self.state[signal]

    def switch(self, motion: str, output: str, on: bool) -> None:
        """An output goes on or off."""
        self.drives[motion].switch(output, on)

    def wake(self, time: float) -> None:
        """A timer runs out."""
        self._scanner.request(time)

    def speed_change_s(self, motion: str, setting: float) -> float | None:
        """The delay from slow to fast of this run."""
        return self.dice.speed_change_s(setting) if motion == "hoist" else setting
