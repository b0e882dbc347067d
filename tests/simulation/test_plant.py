"""Guards the physical parts: what follows its coil, what moves and passes marks, what warms."""

from __future__ import annotations

import math
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.simulation.engine import Engine
from eventlens.simulation.plant import Actuator, Axis, Winding


def test_equal_instants_keep_their_order_and_cancelled_actions_do_not_happen() -> None:
    engine, seen = Engine(), []
    for name in "abc":
        call = engine.at(1.0, lambda name=name: seen.append(name))  # type: ignore[misc]
        if name == "b":
            call.cancel()
    assert not engine.advance(0.999)
    assert seen == []
    engine.advance(1.0)
    assert (seen, engine.now) == (["a", "c"], 1.0)


def test_advance_stops_at_the_first_instant_at_which_the_condition_holds() -> None:
    engine, seen = Engine(), []
    for at in (1.0, 2.0, 3.0):
        engine.at(at, lambda at=at: seen.append(at))  # type: ignore[misc]
    assert engine.advance(10.0, lambda: 2.0 in seen)
    assert engine.now == 2.0


def _actuator(engine: Engine) -> tuple[Actuator, list[Any]]:
    seen: list[Any] = []
    return Actuator(engine, lambda: 0.02, lambda: 0.01, lambda on: seen.append((engine.now, on))), seen


def test_contactor_follows_its_coil_after_its_times() -> None:
    engine = Engine()
    contactor, seen = _actuator(engine)
    contactor.energise(True)
    engine.advance(1.0)
    contactor.energise(False)
    engine.advance(2.0)
    assert seen == [(pytest.approx(0.02), True), (pytest.approx(1.01), False)]


def test_coil_pulse_shorter_than_the_pull_in_moves_nothing() -> None:
    engine = Engine()
    contactor, seen = _actuator(engine)
    contactor.energise(True)
    engine.advance(0.019)
    contactor.energise(False)
    engine.advance(1.0)
    assert seen == []
    assert not contactor.on


def test_marks_are_passed_at_the_instants_of_uniform_acceleration() -> None:
    # from rest at 1 m/s2 to 2 m/s: 2 m are covered in the ramp of 2 s; 0.5 m after 1 s, 4 m after 3 s (by hand)
    engine = Engine()
    axis = Axis(engine, 0.0)
    seen: list[Any] = []
    for place in (0.5, 4.0):
        axis.mark(place, lambda up, place=place: seen.append((place, engine.now, up)))  # type: ignore[misc]
    axis.drive(2.0, 1.0)
    engine.advance(5.0)
    axis.drive(-2.0, 1.0)  # at 8 m; turns at 10 m after 7 s, is back at 8 m after 9 s, then 2 m/s down
    engine.advance(30.0)
    assert seen == [
        (0.5, pytest.approx(1.0), True),
        (4.0, pytest.approx(3.0), True),
        (4.0, pytest.approx(11.0), False),
        (0.5, pytest.approx(12.75), False),
    ]


@settings(deadline=None)  # a slow oracle on a busy machine
@given(st.integers(0, 10_000))
def test_axis_agrees_with_small_steps(seed: int) -> None:
    # oracle: the same drives integrated in steps of 1 ms
    rng = random.Random(seed)
    engine = Engine()
    axis = Axis(engine, 0.0)
    passed = []
    place = rng.uniform(-1.0, 1.0)
    axis.mark(place, lambda up: passed.append((engine.now, up)))
    x, v, crossings = 0.0, 0.0, []
    for _ in range(5):
        target, rate, ticks = rng.choice((-0.5, 0.0, 0.5, 0.1)), rng.uniform(0.2, 2.0), rng.randint(100, 3000)
        axis.drive(target, rate)
        for _ in range(ticks):
            before = x
            change = min(max(target - v, -rate * 1e-3), rate * 1e-3)
            x += (v + change / 2) * 1e-3
            v += change
            if (before >= place) != (x >= place):
                crossings.append(x >= place)
        engine.advance(engine.now + ticks * 1e-3)
        assert axis.state()[0] == pytest.approx(x, abs=2e-3)
        assert axis.state()[1] == pytest.approx(v, abs=2e-3)
    if abs(x - place) > 5e-3:  # at the mark itself the coarse steps may miss a touch
        assert sum(1 if up else -1 for _, up in passed) == sum(1 if up else -1 for up in crossings)


def test_winding_trips_when_the_exponential_reaches_the_level_and_resets_below() -> None:
    engine = Engine()
    seen: list[Any] = []
    winding = Winding(engine, 1000.0, 2.0, 0.0, 0.85, lambda hot: seen.append((engine.now, hot)))
    winding.run(True)
    engine.advance(800.0)
    # 2 (1 - exp(-t / 1000)) = 1 gives t = 1000 ln 2 (by hand)
    assert seen == [(pytest.approx(1000.0 * math.log(2.0)), True)]
    heat = winding.heat
    winding.run(False)
    engine.advance(5000.0)
    assert seen[1] == (pytest.approx(800.0 + 1000.0 * math.log(heat / 0.85)), False)


def test_winding_below_the_level_never_trips() -> None:
    engine = Engine()
    seen: list[bool] = []
    winding = Winding(engine, 1000.0, 0.99, 0.0, 0.85, seen.append)
    winding.run(True)
    engine.advance(1e6)
    assert seen == []
