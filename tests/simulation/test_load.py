"""Guards the load: tension as the rope stretches, overload by weight, overload by picking up at speed."""

from __future__ import annotations

import math
from typing import Any

import pytest

from eventlens.simulation.engine import Engine
from eventlens.simulation.load import Hook, OverloadDevice, OverloadSettings
from eventlens.simulation.plant import Axis

STRETCH = 0.04
"""Stretch under 1000 kg [m]."""


class Rig:
    """A hook at 1.0 m above loads that go taut at 1.1 m; device trips at 1100 kg and resets at 1000 kg."""

    def __init__(self, hold_s: float = 0.5) -> None:
        self.engine = Engine()
        self.axis = Axis(self.engine, 1.0)
        self.trips: list[Any] = []
        device = OverloadDevice(
            self.engine,
            OverloadSettings(1100.0, 1000.0, 0.05, hold_s),
            lambda on: self.trips.append((self.engine.now, on)),
        )
        self.hook = Hook(self.engine, self.axis, STRETCH / 1000.0, device, lambda: None)

    def raise_to(self, place: float, speed: float) -> None:
        mark = self.axis.mark(place, lambda up: self.axis.drive(0.0, 10.0) if up else None)
        self.axis.drive(speed, 10.0)
        self.engine.advance(self.engine.now + 30.0)
        self.axis.unmark(mark)


def test_tension_grows_with_the_way_until_the_load_leaves() -> None:
    rig = Rig()
    rig.hook.attach(800.0, 1.1)
    assert rig.hook.tension == 0.0
    rig.raise_to(1.1 + STRETCH * 0.4, 0.01)
    assert rig.hook.tension == pytest.approx(400.0, abs=2.0)
    rig.raise_to(1.5, 0.01)
    assert rig.hook.tension == 800.0
    assert rig.hook.lifted


@pytest.mark.parametrize(("mass", "trips"), [(1099.0, False), (1101.0, True)])
def test_weight_alone_trips_above_the_level_only(mass: float, trips: bool) -> None:
    rig = Rig()
    rig.hook.attach(mass, 1.1)
    rig.raise_to(1.5, 1e-4 if not trips else 0.01)
    assert bool(rig.trips) is trips


def test_true_overload_trips_where_the_tension_reaches_the_level_and_lasts_until_lowered() -> None:
    rig = Rig()
    rig.hook.attach(2000.0, 1.1)
    level = 1.1 + STRETCH * 1.1
    rig.raise_to(level + 0.001, 0.01)
    # 0.144 m at 0.01 m/s, plus the filter of 0.05 s (by hand)
    assert rig.trips == [(pytest.approx(0.144 / 0.01 + 0.05, abs=0.01), True)]
    rig.axis.drive(-0.01, 10.0)
    rig.engine.advance(rig.engine.now + 5.0)
    assert [on for _, on in rig.trips] == [True, False]


@pytest.mark.parametrize(("factor", "trips"), [(0.97, False), (1.03, True)])
def test_picking_up_at_speed_trips_when_m_plus_m_v_over_root_g_d_exceeds_the_level(factor: float, trips: bool) -> None:
    # peak of a mass on a spring that leaves its support at speed v: m (1 + v / sqrt(g d)), d = static stretch
    mass = 900.0
    stretch = STRETCH * mass / 1000.0
    critical = (1100.0 / mass - 1.0) * math.sqrt(9.81 * stretch)
    rig = Rig()
    rig.hook.attach(mass, 1.1)
    rig.raise_to(1.5, factor * critical)
    assert bool(rig.trips) is trips


def test_swing_of_a_light_load_releases_the_device_after_its_hold_time() -> None:
    rig = Rig()
    rig.hook.attach(900.0, 1.1)
    rig.raise_to(1.5, 0.2)
    assert [on for _, on in rig.trips][:2] == [True, False]
    assert rig.trips[-1][1] is False


def test_taking_the_load_off_clears_the_device() -> None:
    rig = Rig(hold_s=0.0)
    rig.hook.attach(2000.0, 1.1)
    rig.raise_to(1.16, 0.01)
    rig.hook.detach()
    rig.engine.advance(rig.engine.now + 1.0)
    assert [on for _, on in rig.trips] == [True, False]
    assert rig.hook.tension == 0.0


def test_stopping_a_falling_load_at_once_swings_it_and_slowly_does_not() -> None:
    for seconds, trips in ((0.01, True), (5.0, False)):
        rig = Rig()
        rig.hook.attach(1000.0, 0.5)
        rig.hook.brake(-0.2, seconds)  # hangs free at 1.0 m; amplitude 1000 * 0.2 / sqrt(9.81 * 0.04) = 319 kg
        rig.engine.advance(rig.engine.now + 5.0)
        assert bool(rig.trips) is trips
