"""The controller: reads its inputs at each scan, switches contactors, keeps its timers on the scan grid."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from eventlens.signals import MOTIONS, opposite


@dataclass(frozen=True)
class ControlSettings:
    """Timers of one motion [s]. All are realised at the first scan at or after they run out."""

    speed_change_s: float
    """From slow running to the fast output (anti-jog on a hoist, step-up on a travel)."""
    dwell_s: float
    """From the end of one direction to the beginning of the other."""
    brake_timeout_s: float | None
    """Without a brake-release confirmation for so long, the run is given up; None: brake not monitored."""
    brake_loss_s: float
    """A confirmation that is gone for so long ends the run."""
    feedback_timeout_s: float
    """A contactor that has not answered for so long is given up (where feedback is supervised)."""
    supervises_feedback: bool
    """A contactor that drops out by itself, or does not answer, is locked until the button is released."""
    interlocked: bool = True
    """A direction waits until the contactor of the other one has opened."""


class Outside(Protocol):
    """What a motion's logic sees and does: inputs as read, outputs, wake-ups, and the dice of its timer."""

    def read(self, signal: str) -> bool: ...

    def switch(self, motion: str, output: str, on: bool) -> None: ...

    def wake(self, time: float) -> None: ...

    def speed_change_s(self, motion: str, setting: float) -> float | None: ...


class MotionControl:
    """Logic of one motion. `output` is the direction that is switched on; `cause` says why the last one went off."""

    def __init__(self, motion: str, settings: ControlSettings, outside: Outside) -> None:
        self.motion, self.settings, self._outside = motion, settings, outside
        self.output: str | None = None
        self.fast = False
        self.cause = "let_go"
        self.locked = False
        """No output until the buttons have been released."""
        self._on_at = 0.0
        self._closed_at: float | None = None
        self._confirmed = False
        self._unconfirmed_at: float | None = None
        self._off_at = {direction: float("-inf") for direction in MOTIONS[motion]}
        self._fast_off_at = float("-inf")
        self._speed_change_s: float | None = None

    def _read(self, kind: str) -> bool:
        return self._outside.read(f"{self.motion}.{kind}")

    def scan(self, now: float) -> None:
        """One scan at an instant [s]."""
        asked = [direction for direction in MOTIONS[self.motion] if self._read(f"{direction}.command")]
        if not asked:
            self.locked = False
        wanted = asked[0] if len(asked) == 1 else None
        if self.output is not None:
            self._follow_feedback(now, self.output)
            cause = self._why_off(now, self.output, wanted)
            if cause is not None:
                self._switch_off(now, self.output, cause)
        if self.output is None and wanted is not None and not self.locked and self._may_start(now, wanted):
            self._switch_on(now, wanted)
        if self.output is not None:
            self._choose_speed(now, self.output)

    def _follow_feedback(self, now: float, direction: str) -> None:
        if self._read(f"{direction}.contactor"):
            if self._closed_at is None:
                self._closed_at = now
                if self.settings.brake_timeout_s is not None:
                    self._outside.wake(now + self.settings.brake_timeout_s)
        elif self._closed_at is not None and not self.settings.supervises_feedback:
            self._closed_at, self._confirmed, self._unconfirmed_at = None, False, None
            self._set_fast(now, False)  # if the contactor comes back, the run begins anew
        if self.settings.brake_timeout_s is None or self._closed_at is None:
            return  # before the contactor has closed, the confirmation may still be that of the run before
        if self._read("brake.released"):
            self._confirmed, self._unconfirmed_at = True, None
        elif self._confirmed and self._unconfirmed_at is None:
            self._unconfirmed_at = now
            self._outside.wake(now + self.settings.brake_loss_s)

    def _why_off(self, now: float, direction: str, wanted: str | None) -> str | None:
        """Why the output must go off, in words of the run's ending, or None."""
        if wanted != direction:
            return "let_go"
        return self._blocked(direction) or self._supervision(now, direction)

    def _blocked(self, direction: str) -> str | None:
        if self._outside.read("stop.emergency"):
            return "emergency_stop"
        if not self._outside.read("supply.control"):
            return "supply"
        if self._read("motor.hot"):
            return "motor_hot"
        if self._read(f"{direction}.limit"):
            return "limit"
        if direction == "raise" and self._outside.read("overload.trip"):
            return "overload"
        return None

    def _supervision(self, now: float, direction: str) -> str | None:
        settings = self.settings
        if settings.supervises_feedback and not self._read(f"{direction}.contactor"):
            if self._closed_at is not None:
                return "feedback_lost"
            if now >= self._on_at + settings.feedback_timeout_s - 1e-9:
                return "no_feedback"
        if settings.brake_timeout_s is None:
            return None
        if self._unconfirmed_at is not None and now >= self._unconfirmed_at + settings.brake_loss_s - 1e-9:
            return "brake_lost"
        waited = self._closed_at is not None and now >= self._closed_at + settings.brake_timeout_s - 1e-9
        return "brake_not_confirmed" if waited and not self._confirmed else None

    def _may_start(self, now: float, direction: str) -> bool:
        if self._blocked(direction) is not None:
            self.locked = self._blocked(direction) != "limit"
            return False
        other = opposite(self.motion, direction)
        ready = self._off_at[other] + self.settings.dwell_s
        if now < ready - 1e-9:
            self._outside.wake(ready)
            return False
        return not (self.settings.interlocked and self._read(f"{other}.contactor"))

    def _switch_on(self, now: float, direction: str) -> None:
        self.output, self._on_at, self._closed_at = direction, now, None
        self._confirmed, self._unconfirmed_at = False, None
        self._speed_change_s = self._outside.speed_change_s(self.motion, self.settings.speed_change_s)
        self._outside.switch(self.motion, direction, True)
        if self.settings.supervises_feedback:
            self._outside.wake(now + self.settings.feedback_timeout_s)

    def _switch_off(self, now: float, direction: str, cause: str) -> None:
        self.output, self.cause = None, cause
        self._off_at[direction] = now
        self.locked = cause not in ("let_go", "limit")
        self._outside.switch(self.motion, direction, False)
        self._set_fast(now, False)

    def _choose_speed(self, now: float, direction: str) -> None:
        wanted = self._read("fast.command") and not self._read(f"{direction}.slowdown")
        if wanted and not self.fast and self._speed_change_s is not None:
            if self._closed_at is None:
                return
            ready = max(self._closed_at, self._fast_off_at) + self._speed_change_s
            if now < ready - 1e-9:
                self._outside.wake(ready)
                return
        self._set_fast(now, wanted)

    def _set_fast(self, now: float, on: bool) -> None:
        if on == self.fast:
            return
        self.fast = on
        if not on:
            self._fast_off_at = now
        self._outside.switch(self.motion, "fast", on)


class Scanner:
    """Calls the logic on the grid of scans, and only at scans at which something may change."""

    def __init__(self, scan_s: float, at: Callable[[float, Callable[[], None]], object]) -> None:
        self.scan_s, self._at = scan_s, at
        self._planned: set[int] = set()
        self.logics: list[MotionControl] = []

    def request(self, time: float) -> None:
        """See to a scan at the first instant of the grid that is not before a time."""
        number = int(-(-(time - 1e-9) // self.scan_s))
        if number not in self._planned:
            self._planned.add(number)
            self._at(number * self.scan_s, lambda: self._scan(number))

    def _scan(self, number: int) -> None:
        self._planned.discard(number)
        for logic in self.logics:
            logic.scan(number * self.scan_s)
