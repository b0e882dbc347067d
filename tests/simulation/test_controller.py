"""Guards the controller's logic: interlocks, timers on the scan grid, and what locks until the button is released."""

from __future__ import annotations

from dataclasses import replace

import pytest

from eventlens.simulation.controller import ControlSettings, MotionControl, Scanner
from eventlens.simulation.engine import Engine

SETTINGS = ControlSettings(
    speed_change_s=0.40,
    dwell_s=0.25,
    brake_timeout_s=1.0,
    brake_loss_s=0.1,
    feedback_timeout_s=0.5,
    supervises_feedback=True,
)
SCAN_S = 0.02


class Bench:
    """A controller on a bench: inputs are set by hand; contactors and brake answer at once unless they are dead."""

    def __init__(self, settings: ControlSettings = SETTINGS) -> None:
        self.engine = Engine()
        self.inputs = {"supply.control": True}
        self.outputs: list[tuple[float, str, bool]] = []
        self.dead: set[str] = set()
        self.timer: float | None = settings.speed_change_s
        self.scanner = Scanner(SCAN_S, self.engine.at)
        self.logic = MotionControl("hoist", settings, self)
        self.scanner.logics = [self.logic]

    def read(self, signal: str) -> bool:
        return self.inputs.get(signal, False)

    def switch(self, motion: str, output: str, on: bool) -> None:
        self.outputs.append((round(self.engine.now, 6), output, on))
        if output not in self.dead or not on:
            self.engine.at(self.engine.now, lambda: self.set(f"{motion}.{output}.contactor", on))
            if output != "fast" and "brake" not in self.dead:
                self.engine.at(self.engine.now + 0.1, lambda: self.set("hoist.brake.released", on))

    def wake(self, time: float) -> None:
        self.scanner.request(time)

    def speed_change_s(self, motion: str, setting: float) -> float | None:
        return self.timer

    def set(self, signal: str, on: bool) -> None:
        self.inputs[signal] = on
        self.scanner.request(self.engine.now)

    def press(self, at: float, signal: str, on: bool) -> None:
        self.engine.at(at, lambda: self.set(f"hoist.{signal}", on))

    def run(self, until: float) -> list[tuple[float, str, bool]]:
        self.engine.advance(until)
        return self.outputs


def test_a_press_is_read_at_the_next_scan() -> None:
    bench = Bench()
    bench.press(0.031, "raise.command", True)
    assert bench.run(0.5) == [(0.04, "raise", True)]


def test_fast_follows_after_the_delay_on_the_scan_grid() -> None:
    bench = Bench()
    bench.press(0.0, "raise.command", True)
    bench.press(0.05, "fast.command", True)
    assert bench.run(1.0) == [(0.0, "raise", True), (0.4, "fast", True)]


def test_without_its_timer_fast_follows_the_button_at_once() -> None:
    bench = Bench()
    bench.timer = None
    bench.press(0.0, "raise.command", True)
    bench.press(0.05, "fast.command", True)
    assert bench.run(1.0) == [(0.0, "raise", True), (0.06, "fast", True)]


def test_slow_down_limit_takes_fast_away_and_leaves_slow() -> None:
    bench = Bench()
    bench.press(0.0, "raise.command", True)
    bench.press(0.0, "fast.command", True)
    bench.press(2.0, "raise.slowdown", True)
    assert bench.run(5.0)[2:] == [(2.0, "fast", False)]
    assert bench.logic.output == "raise"


def test_reversal_waits_for_the_dwell() -> None:
    bench = Bench()
    bench.press(0.0, "raise.command", True)
    bench.press(1.0, "raise.command", False)
    bench.press(1.0, "lower.command", True)
    # 0.25 s after 1.00 s, at the next scan of 0.02 s: 1.26 s (by hand)
    assert bench.run(3.0) == [(0.0, "raise", True), (1.0, "raise", False), (1.26, "lower", True)]


def test_both_buttons_give_nothing() -> None:
    bench = Bench()
    bench.press(0.0, "raise.command", True)
    bench.press(0.0, "lower.command", True)
    assert bench.run(2.0) == []


def test_missing_confirmation_gives_up_after_the_time_out_and_locks_until_released() -> None:
    bench = Bench()
    bench.dead.add("brake")
    bench.press(0.0, "raise.command", True)
    assert bench.run(5.0) == [(0.0, "raise", True), (1.0, "raise", False)]
    assert (bench.logic.cause, bench.logic.locked) == ("brake_not_confirmed", True)
    bench.press(5.0, "raise.command", False)
    bench.press(6.0, "raise.command", True)
    assert bench.run(6.5)[2:] == [(6.0, "raise", True)]


@pytest.mark.parametrize(("gone_s", "drops"), [(0.08, False), (0.14, True)])
def test_lost_confirmation_ends_the_run_only_if_it_lasts(gone_s: float, drops: bool) -> None:
    bench = Bench()
    bench.press(0.0, "raise.command", True)
    bench.press(2.0, "brake.released", False)
    bench.press(2.0 + gone_s, "brake.released", True)
    bench.run(4.0)
    assert (bench.logic.output is None) is drops
    assert (bench.logic.cause == "brake_lost") is drops


def test_confirmation_left_over_from_the_run_before_is_no_confirmation() -> None:
    bench = Bench()
    bench.dead.add("raise")  # the contactor does not close, so the brake of the run before applies
    bench.inputs["hoist.brake.released"] = True
    bench.press(0.0, "raise.command", True)
    bench.press(0.1, "brake.released", False)
    bench.run(3.0)
    assert bench.logic.cause == "no_feedback"


def test_overload_cuts_raise_and_not_lower() -> None:
    bench = Bench()
    bench.engine.at(1.0, lambda: bench.set("overload.trip", True))
    bench.press(0.0, "raise.command", True)
    bench.press(2.0, "raise.command", False)
    bench.press(3.0, "raise.command", True)
    bench.press(4.0, "raise.command", False)
    bench.press(5.0, "lower.command", True)
    assert bench.run(6.0) == [(0.0, "raise", True), (1.0, "raise", False), (5.0, "lower", True)]


def test_a_held_button_does_not_start_again_when_the_overload_clears() -> None:
    bench = Bench()
    bench.press(0.0, "raise.command", True)
    bench.engine.at(1.0, lambda: bench.set("overload.trip", True))
    bench.engine.at(1.5, lambda: bench.set("overload.trip", False))
    assert bench.run(4.0) == [(0.0, "raise", True), (1.0, "raise", False)]


@pytest.mark.parametrize(
    ("signal", "on", "cause"),
    [
        ("stop.emergency", True, "emergency_stop"),
        ("supply.control", False, "supply"),
        ("hoist.motor.hot", True, "motor_hot"),
        ("hoist.raise.limit", True, "limit"),
        ("hoist.raise.contactor", False, "feedback_lost"),
    ],
)
def test_what_ends_a_run_is_kept_as_its_cause(signal: str, on: bool, cause: str) -> None:
    bench = Bench()
    bench.press(0.0, "raise.command", True)
    bench.engine.at(1.0, lambda: bench.set(signal, on))
    bench.run(2.0)
    assert (bench.logic.output, bench.logic.cause) == (None, cause)


def test_the_limit_of_the_other_direction_does_not_matter() -> None:
    bench = Bench()
    bench.inputs["hoist.lower.limit"] = True
    bench.press(0.0, "raise.command", True)
    bench.run(2.0)
    assert bench.logic.output == "raise"


def test_contactor_that_comes_back_by_itself_begins_in_slow_again() -> None:
    bench = Bench(replace(SETTINGS, supervises_feedback=False))
    bench.press(0.0, "raise.command", True)
    bench.press(0.0, "fast.command", True)
    bench.press(1.0, "raise.contactor", False)
    bench.press(1.3, "raise.contactor", True)
    assert bench.run(3.0) == [
        (0.0, "raise", True),
        (0.4, "fast", True),
        (1.0, "fast", False),
        (1.7, "fast", True),
    ]
