"""A person with a pendant: presses buttons, watches hook and lamps, positions, tries again."""

from __future__ import annotations

import math
import random

from eventlens.signals import MOTIONS
from eventlens.simulation.drive import Drive
from eventlens.simulation.hoist import Crane
from eventlens.simulation.traits import Habits

GIVE_UP = 8
"""Tries after which a person leaves it for a while."""


class Pendant:
    """Hands and eyes. Every method lets time pass on the machine's engine."""

    def __init__(self, crane: Crane, habits: Habits, rng: random.Random) -> None:
        self._crane, self._habits, self._rng = crane, habits, rng
        self._engine = crane.engine
        self._hoist = crane.drives["hoist"]
        self._travel_height = self._hoist.way_m * 0.6
        self._released_at = 0.0

    # Small things

    def _chance(self, share: float) -> bool:
        return self._rng.random() < share

    def _about(self, median: float, spread: float = 0.35) -> float:
        """A time of a person [s]: log-normal about its median."""
        return median * math.exp(self._rng.gauss(0.0, spread))

    def _wait(self, median: float, spread: float = 0.35) -> None:
        self._engine.advance(self._engine.now + self._about(median, spread))

    def _press(self, drive: Drive, kind: str, on: bool) -> None:
        self._crane.press(f"{drive.motion}.{kind}.command", on)

    def _seen_by_lamp(self, drive: Drive, direction: str) -> str | None:
        """What stands in the way as far as lamps and eyes show it."""
        state = self._crane.state
        if state["stop.emergency"] or not state["supply.control"]:
            return "stop"
        if state[f"{drive.motion}.motor.hot"]:
            return "hot"
        if state[f"{drive.motion}.{direction}.limit"]:
            return "limit"
        return "overload" if direction == "raise" and state["overload.trip"] else None

    # One press of a button

    def hold(
        self,
        motion: str,
        direction: str,
        *,
        seconds: float | None = None,
        to: float | None = None,
        fast: bool = False,
    ) -> str:
        """Hold a button for some seconds or up to a position [m].

        Says "done", or what ended it: "limit", "overload", "hot", "stop", "stopped" (nobody knows why) or
        "no_start".
        """
        drive, engine = self._crane.drives[motion], self._engine
        engine.advance(max(engine.now, self._released_at + self._rng.uniform(0.06, 0.25)))
        run, begin = drive.runs, engine.now
        until = begin + (seconds if seconds is not None else 600.0)
        self._press(drive, direction, True)
        outcome, abrupt = "done", fast and to is not None and self._chance(self._habits.abrupt)
        if fast:
            outcome = self._hold_fast(drive, direction, run, until, to, abrupt)
        if outcome == "done" and not abrupt and self._short_of(drive, direction, to):
            outcome = self._watch(drive, direction, run, until, to)
        if outcome != "done":
            outcome = self._seen_by_lamp(drive, direction) or outcome
            self._wait(self._habits.reaction_s)
        if self._crane.state[f"{motion}.fast.command"]:
            self._press(drive, "fast", False)
            engine.advance(engine.now + self._rng.uniform(0.02, 0.08))
        self._press(drive, direction, False)
        self._released_at = engine.now
        return outcome

    def _hold_fast(self, drive: Drive, direction: str, run: int, until: float, to: float | None, abrupt: bool) -> str:
        """Go on to the second step, and back to the first one before the target, unless let go abruptly."""
        self._engine.advance(min(until, self._engine.now + self._about(self._habits.press_through_s)))
        if self._engine.now >= until:
            return "done"
        self._press(drive, "fast", True)
        if to is None:
            return "done"
        early = self._rng.uniform(0.3, 1.0) * drive.speeds.fast
        outcome = self._watch(drive, direction, run, until, to - drive.sign[direction] * early)
        if outcome == "done" and not abrupt:
            self._press(drive, "fast", False)
        return outcome

    def _short_of(self, drive: Drive, direction: str, to: float | None) -> bool:
        """The position is not reached yet (there is none to reach: never)."""
        return to is None or (to - drive.axis.position) * drive.sign[direction] > 0.0

    def _watch(self, drive: Drive, direction: str, run: int, until: float, to: float | None) -> str:
        """Let time pass until the position, or the time, or until it is seen that nothing moves."""
        reached = [not self._short_of(drive, direction, to)]
        mark = None
        if to is not None and not reached[0]:
            mark = drive.axis.mark(to, lambda _: reached.__setitem__(0, True))
        patience = self._engine.now + self._about(1.4)
        started = self._engine.advance(min(until, patience), lambda: reached[0] or drive.runs > run)
        ended = False
        if started and not reached[0]:
            last = drive.runs
            ended = self._engine.advance(
                until, lambda: reached[0] or (drive.direction is None and drive.runs == last) or drive.runs > last
            )
        if mark is not None:
            drive.axis.unmark(mark)
        if reached[0] or self._engine.now >= until:
            return "done"
        return "stopped" if ended else "no_start"

    # Going somewhere

    def go(self, motion: str, target: float, *, tolerance: float | None = None, fast: bool = True) -> bool:
        """Bring a motion to a position [m], with as many presses as it takes; says whether it arrived."""
        drive = self._crane.drives[motion]
        near = self._habits.tolerance_m * (1.0 if motion == "hoist" else 4.0) if tolerance is None else tolerance
        for _ in range(GIVE_UP):
            gap = target - drive.axis.position
            if abs(gap) <= near:
                return True
            direction = next(d for d in MOTIONS[motion] if drive.sign[d] * gap > 0)
            lead = drive.speeds.slow * self._rng.uniform(0.05, 0.35)
            far = abs(gap) > 1.5 * drive.speeds.fast
            quick = fast and far and self._chance(self._habits.fast_share)
            outcome = self.hold(motion, direction, to=target - drive.sign[direction] * lead, fast=quick)
            if outcome == "done":
                self._correct(drive, target, near, direction)
            elif outcome in ("limit", "overload"):
                return False
            else:
                self._bear(outcome)
        self._wait(30.0)
        return False

    def _correct(self, drive: Drive, target: float, near: float, direction: str) -> None:
        """Look at what was reached before the next press; overshoot may be taken back without a pause."""
        gap = target - drive.axis.position
        if abs(gap) <= near:
            if self._chance(self._habits.double_press):
                self._wait(0.25, 0.2)
                self.hold(drive.motion, direction, seconds=self._about(0.8))
            return
        if gap * drive.sign[direction] < 0 and self._chance(self._habits.reversal):
            self._wait(0.15, 0.4)
        else:
            self._wait(2.5)

    def _bear(self, outcome: str) -> None:
        """Something was in the way: wait as long as a person would."""
        if outcome == "hot":
            while self._crane.state["hoist.motor.hot"]:
                self._wait(120.0)
        elif outcome == "stop":
            self._wait(5.0)
        else:
            self._wait(self._habits.retry_s)
