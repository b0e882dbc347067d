"""One motion of the machine: its contactors, relays, brake and limit switches, and the axis that they move."""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from eventlens.signals import MOTIONS
from eventlens.simulation.plant import Actuator, Axis
from eventlens.simulation.switch import ConfirmationSwitch
from eventlens.simulation.traits import HoistTraits, TravelTraits

if TYPE_CHECKING:
    from eventlens.simulation.hoist import Crane

SLOW_ZONE_M: Final = {"hoist": (0.8, 0.4), "trolley": (1.2, 1.2), "bridge": (2.0, 2.0)}
"""How far before the final limits the slow-down limits lie: upwards (or second direction), downwards [m]."""

SWITCH_TRAVEL_M: Final = 0.02
"""Way of a limit switch between operating and releasing [m]."""


@dataclass(frozen=True)
class Speeds:
    """What moves an axis: speeds [m/s], times to and from full speed [s]."""

    slow: float
    fast: float
    accelerate_s: float
    brake_s: float


class Times:
    """Times of a motion's parts, drawn about their means; none is shorter than half its mean or longer than twice."""

    def __init__(self, traits: HoistTraits | TravelTraits, rng: random.Random) -> None:
        self._traits, self._rng = traits, rng

    def _about(self, mean: float) -> float:
        return min(max(self._rng.gauss(mean, mean * self._traits.scatter), 0.5 * mean), 2.0 * mean)

    def close(self) -> float:
        """Coil on to contactor closed [s]."""
        return self._about(self._traits.contactor_close_s)

    def open(self) -> float:
        """Coil off to contactor open [s]."""
        return self._about(self._traits.contactor_open_s)

    def release(self, extra: float = 0.0) -> float:
        """Contactor closed to brake released [s], with what cold and wear add."""
        return self._about(self._traits.release_s + extra)

    def apply(self) -> float:
        """Contactor open to brake applied [s]."""
        return self._about(self._traits.apply_s)


class Drive:
    """One motion: an axis, a contactor for each direction, one for fast, a brake. Up, right, forward is positive."""

    def __init__(self, crane: Crane, motion: str, way_m: float, speeds: Speeds, times: Times) -> None:
        self.motion, self.speeds, self._crane, self._times = motion, speeds, crane, times
        self.way_m = way_m
        engine = crane.engine
        self.axis = Axis(engine, way_m * 0.5)
        self.direction: str | None = None
        self.runs = 0
        """Runs begun so far."""
        self.relay_ok = dict.fromkeys((*MOTIONS[motion], "fast"), True)
        self.output = dict.fromkeys((*MOTIONS[motion], "fast"), False)
        self._reason = "let_go"
        self._stray: str | None = None
        """Direction whose contactor is on by itself."""
        self.chattering: str | None = None
        """Direction that a loose contact switches off and on just now."""
        self._welded = False
        """A direction's contactor stays on though it is no longer fed."""
        self.contactors = {
            name: Actuator(
                engine,
                partial(self._close_s, name),
                partial(self._open_s, name),
                partial(self._contactor_changed, name),
            )
            for name in self.output
        }
        self.brake = Actuator(engine, self._release_s, self._apply_s, self._brake_changed)
        self.confirmation = ConfirmationSwitch(crane, self)
        self._drifting = False
        """The motor is off and the brake is late to set."""
        self._place_limits()

    # Limits

    def _place_limits(self) -> None:
        high, low = SLOW_ZONE_M[self.motion]
        first, second = MOTIONS[self.motion]
        up, down = (first, second) if self.motion in ("hoist", "bridge") else (second, first)
        self.sign = {up: 1.0, down: -1.0}
        for place, name in ((self.way_m, f"{up}.limit"), (self.way_m - high, f"{up}.slowdown")):
            self.axis.mark(place, partial(self._limit, name, True))
            self.axis.mark(place - SWITCH_TRAVEL_M, partial(self._limit, name, False))
        for place, name in ((0.0, f"{down}.limit"), (low, f"{down}.slowdown")):
            self.axis.mark(place, partial(self._limit, name, True, down=True))
            self.axis.mark(place + SWITCH_TRAVEL_M, partial(self._limit, name, False, down=True))

    def _limit(self, name: str, on: bool, upwards: bool, *, down: bool = False) -> None:
        """A limit switch operates where its mark is passed outwards and releases where the other is passed back."""
        if (upwards != down) == on:
            self._crane.set(f"{self.motion}.{name}", on)
            if self._welded or self._stray is not None:
                self._crane.engine.after(0.0, self.follow)
            if on and name.endswith("slowdown"):
                self._crane.recorder.slowed(self.motion, name.split(".")[0], self._crane.engine.now)

    # Coils

    def switch(self, output: str, on: bool) -> None:
        """The controller's output goes on or off."""
        self.output[output] = on
        dice, recorder, name = self._crane.dice, self._crane.recorder, f"{self.motion}.{output}"
        now = self._crane.engine.now
        if not on and output != "fast" and self._crane.logic[self.motion].cause == "no_feedback":
            recorder.relay_failed(self.motion, output)  # given up before it came
        if on and output == "fast":
            self.relay_ok["fast"] = self.motion != "hoist" or not (dice.contactors.lost(name, now) or dice.fast_dead())
            if not self.relay_ok["fast"]:
                recorder.fast_failed(self.motion)
        elif on:
            self.relay_ok[output] = not (dice.contactors.lost(name, now) or dice.relay_dead(name))
            if not self.relay_ok[output]:
                recorder.relay_failed(self.motion, output)
        self.feed()

    def feed(self) -> None:
        """Feed each coil, or not: output, relay, and the hard-wired stop and supply."""
        crane = self._crane
        for name, contactor in self.contactors.items():
            coil = (self.output[name] and self.relay_ok[name] and crane.fed) or name == self._stray
            if contactor.coil and not coil and name != "fast":
                self._reason = self._why_open(name)
            contactor.energise(coil)

    def stray(self, direction: str, seconds: float) -> None:
        """A contactor closes by itself for some seconds, if the motion is at rest and nobody asks for it."""
        asked = any(self._crane.state[f"{self.motion}.{way}.command"] for way in MOTIONS[self.motion])
        if asked or self.direction is not None or self.brake.on or any(self.output.values()):
            self._crane.engine.after(1.0, partial(self.stray, direction, seconds))
            return
        self._stray = direction
        self.feed()
        self._crane.engine.after(seconds, self._stray_ends)

    def _stray_ends(self) -> None:
        name, self._stray = self._stray, None
        self.feed()
        if name is not None and not self.contactors[name].coil:
            self._reason = "stray"

    def _close_s(self, name: str) -> float:
        late = 0.0 if name == self._stray else self._crane.dice.contactors.extra_close(name)
        return self._times.close() + late

    def _open_s(self, name: str) -> float:
        usual, stuck = self._times.open(), self._crane.dice.contactors.welded(self.motion, name)
        if stuck is None:
            return usual
        self._welded = self._welded or name != "fast"
        return stuck

    def _why_open(self, name: str) -> str:
        crane = self._crane
        if name == self.chattering:
            return "chatter"
        if crane.state["stop.emergency"]:
            return "emergency_stop"
        if not crane.fed:
            return "supply"
        return "relay" if not self.relay_ok[name] else crane.logic[self.motion].cause

    def _contactor_changed(self, name: str, on: bool) -> None:
        crane, now = self._crane, self._crane.engine.now
        if name == "fast":
            if on:
                crane.recorder.fast_closed(self.motion, now)
            else:
                crane.recorder.fast_opened(self.motion)
        elif on:
            self.direction, self.runs = name, self.runs + 1
            crane.recorder.contactor_closed(self.motion, name, now)
            if self.motion == "hoist" and crane.state["hoist.brake.released"]:
                crane.recorder.brake_confirmed("hoist")
            self._shake(name)
        else:
            self.direction = next((way for way in MOTIONS[self.motion] if self.contactors[way].on), None)
            self._welded = self.direction is not None and not self.contactors[self.direction].coil
            held = bool(crane.state[f"{self.motion}.{name}.command"])
            crane.recorder.contactor_opened(self.motion, name, now, self._reason, held)
        if name != "fast":
            self.brake.energise(self.direction is not None and not self._stuck(on))
            crane.heat(self.motion, self.direction is not None)
        crane.set(f"{self.motion}.{name}.contactor", on)
        self.follow()

    def _stuck(self, starting: bool) -> bool:
        return starting and self.motion == "hoist" and self._crane.dice.brake_stuck()

    def _shake(self, name: str) -> None:
        """The relay of a running direction may be shaken open for a while."""
        crane, run = self._crane, self.runs
        seconds = crane.dice.relay_opens_after(f"{self.motion}.{name}")
        if seconds is None:
            return

        def open_relay() -> None:
            if self.runs == run and self.direction == name:
                self.relay_ok[name] = False
                self.feed()
                crane.engine.after(crane.dice.relay_gap(), close_relay)

        def close_relay() -> None:
            self.relay_ok[name] = True
            self.feed()

        crane.engine.after(seconds, open_relay)

    # Brake and movement

    def _release_s(self) -> float:
        extra = self._crane.brake_extra_s() if self.motion == "hoist" else 0.0
        usual = self._times.release(extra)
        late = self._crane.dice.brake.release_late() if self.motion == "hoist" else None
        return usual if late is None else late

    def _apply_s(self) -> float:
        usual = self._times.apply()
        late = self._crane.dice.brake.apply_late() if self.motion == "hoist" else None
        self._drifting = late is not None
        return usual if late is None else late

    def _brake_changed(self, released: bool) -> None:
        if self.motion == "hoist":
            if not released:
                speed = self.axis.state()[1]
                self._crane.hook.brake(speed, self.speeds.brake_s * abs(speed) / self.speeds.fast)
            self.confirmation.follow(released)
        self.follow()

    def _beyond_limit(self) -> bool:
        """Where the contactor itself does not open at the final limit, the power-cutting switch stops the axis."""
        way = self.direction
        uncalled = self._welded or self._stray is not None
        return uncalled and way is not None and self._crane.state[f"{self.motion}.{way}.limit"]

    def follow(self) -> None:
        """The axis follows contactors and brake: motor speed, coasting, braking.

        Both directions at once short-circuit two phases: the motor gives no torque, and what is upstream (fuses) is
        taken to be whole again as soon as one of them has opened.
        """
        speeds = self.speeds
        shorted = all(self.contactors[way].on for way in MOTIONS[self.motion])
        if not self.brake.on or shorted or self._beyond_limit():
            self.axis.drive(0.0, speeds.fast / speeds.brake_s)
        elif self.direction is not None:
            speed = speeds.fast if self.contactors["fast"].on else speeds.slow
            self.axis.drive(self.sign[self.direction] * speed, speeds.fast / speeds.accelerate_s)
        elif self._drifting:  # the load pulls the gear along
            self.axis.drive(-0.5 * speeds.slow, speeds.fast / speeds.accelerate_s)
