"""Traits of one machine and its people, and the ranges from which they are drawn: data, not code.

Two sets of ranges: `ORDINARY`, and `HELD_OUT` with other timings and habits, for scoring on machines that nobody
looked at while writing the patterns. Where nothing else is said, ranges are common practice for electric wire-rope
hoists of 1 to 10 t (brake times: published tables of spring-applied disc brakes, 16 to 260 Nm).
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Final, TypeVar


@dataclass(frozen=True)
class HoistTraits:
    """The hoisting motion."""

    lift_m: float
    """Way of the hook between its final limits."""
    slow_mps: float
    fast_mps: float
    accelerate_s: float
    """Standstill to full speed."""
    brake_s: float
    """Full speed to standstill once the brake is applied."""
    contactor_close_s: float
    """Mean time of an AC-coil contactor with its relay."""
    contactor_open_s: float
    release_s: float
    """Mean time from contactor to brake released, warm."""
    apply_s: float
    """Mean time from contactor open to brake applied (DC-side switching)."""
    cold_s: float
    """What a cold brake adds to the release."""
    scatter: float
    """Scatter of the times as a share of their mean (standard deviation)."""
    stretch_m: float
    """Stretch of rope, slings and structure under the rated load."""
    trip_share: float
    """Trip level over the rated load (usual setting window 1.10 to 1.25)."""
    reset_share: float
    """Reset level over the trip level."""
    filter_s: float
    hold_s: float
    heat_tau_s: float
    heat_steady: float
    """Heat of unbroken running, over the trip level of the thermistor."""
    heat_kick: float
    """Heat of one start."""


@dataclass(frozen=True)
class TravelTraits:
    """One travel motion, trolley or bridge."""

    way_m: float
    slow_mps: float
    fast_mps: float
    accelerate_s: float
    brake_s: float
    contactor_close_s: float
    contactor_open_s: float
    release_s: float
    apply_s: float
    scatter: float
    step_up_s: float
    dwell_s: float


@dataclass(frozen=True)
class ControlTraits:
    """The controller."""

    scan_s: float
    speed_change_s: float
    dwell_s: float
    brake_timeout_s: float
    brake_loss_s: float
    feedback_timeout_s: float
    supervised_share: float
    """Share of the machines whose controller supervises contactor feedback."""


@dataclass(frozen=True)
class Habits:
    """How the people work. Shares are per work cycle unless said otherwise."""

    cycles_per_h: float
    """Pace of the work; a cycle that takes longer delays the next one."""
    load_mean: float
    """Middle of the loads over the rated load."""
    too_heavy: float
    """Share of loads above what the device allows."""
    snatch: float
    """Share of pick-ups at speed from a slack rope."""
    near_rated: float
    """Share of loads close to the rated one."""
    jog: float
    """Share of landings fitted by inching."""
    jog_run_s: float
    """Median length of an inching run."""
    jog_pause_s: float
    repeat: float
    """After an overload: share that tries again at once instead of lowering."""
    reaction_s: float
    """Median time to notice that something stopped."""
    retry_s: float
    """Median pause before another try."""
    tolerance_m: float
    """How closely a height is met before it is good enough."""
    fast_share: float
    """Share of the longer ways on which the fast step is used."""
    abrupt: float
    """Share of fast runs that are let go at the fast step instead of slowing down first."""
    press_through_s: float
    """First to second step of the button when pressed through."""
    travel: float
    """Share of the cycles with travel of trolley and bridge."""
    park_at_limit: float
    """Share of the hoistings of the empty hook that end at the upper limit."""
    emergency_stop: float
    reversal: float
    """Share of the corrections made by going straight over to the other direction."""
    double_press: float
    """Share of runs that are let go and pressed again at once."""
    daily_test: float
    """Share of the shifts that begin with the test of the upper limit."""
    overloaded: float
    """Share of loads above the rated one by a tenth to six tenths, whatever the device allows."""


Ranges = Mapping[str, Mapping[str, tuple[float, float]]]
"""Group -> trait -> lowest and highest value."""

T = TypeVar("T")


def draw(kind: type[T], ranges: Mapping[str, tuple[float, float]], own: Mapping[str, float], rng: random.Random) -> T:
    """Traits drawn evenly from their ranges; what a scenario sets itself stands. Each trait costs one draw."""
    names = [field.name for field in fields(kind)]  # type: ignore[arg-type]
    unknown = set(own) - set(names)
    if unknown:
        raise ValueError(f"{kind.__name__} has no trait {sorted(unknown)}")
    drawn = {name: rng.uniform(*ranges[name]) for name in names}
    return kind(**(drawn | dict(own)))


ORDINARY: Final[Ranges] = MappingProxyType(
    {
        "hoist": {
            "lift_m": (4.0, 8.0),
            "slow_mps": (0.02, 0.05),
            "fast_mps": (0.10, 0.25),
            "accelerate_s": (0.15, 0.45),
            "brake_s": (0.10, 0.25),
            "contactor_close_s": (0.012, 0.032),
            "contactor_open_s": (0.006, 0.018),
            "release_s": (0.09, 0.30),
            "apply_s": (0.04, 0.17),
            "cold_s": (0.0, 0.05),
            "scatter": (0.04, 0.10),
            "stretch_m": (0.02, 0.08),
            "trip_share": (1.10, 1.20),
            "reset_share": (0.88, 0.96),
            "filter_s": (0.02, 0.08),
            "hold_s": (0.05, 1.0),
            "heat_tau_s": (1200.0, 2400.0),
            "heat_steady": (1.3, 1.8),
            "heat_kick": (0.0008, 0.0025),
        },
        "travel": {
            "way_m": (10.0, 30.0),
            "slow_mps": (0.08, 0.15),
            "fast_mps": (0.30, 0.60),
            "accelerate_s": (0.8, 2.0),
            "brake_s": (0.6, 1.5),
            "contactor_close_s": (0.010, 0.028),
            "contactor_open_s": (0.006, 0.018),
            "release_s": (0.05, 0.12),
            "apply_s": (0.03, 0.08),
            "scatter": (0.04, 0.10),
            "step_up_s": (0.45, 0.8),
            "dwell_s": (0.3, 0.6),
        },
        "control": {
            "scan_s": (0.010, 0.010),
            "speed_change_s": (0.40, 0.40),
            "dwell_s": (0.10, 0.40),
            "brake_timeout_s": (0.8, 1.6),
            "brake_loss_s": (0.08, 0.20),
            "feedback_timeout_s": (0.3, 0.6),
            "supervised_share": (0.7, 0.7),
        },
        "habits": {
            "cycles_per_h": (6.0, 11.0),
            "load_mean": (0.35, 0.6),
            "too_heavy": (0.0, 0.0),
            "snatch": (0.0, 0.01),
            "near_rated": (0.05, 0.15),
            "jog": (0.0, 0.02),
            "jog_run_s": (0.25, 0.45),
            "jog_pause_s": (0.4, 0.9),
            "repeat": (0.0, 0.1),
            "reaction_s": (0.5, 1.0),
            "retry_s": (0.8, 2.0),
            "tolerance_m": (0.03, 0.06),
            "fast_share": (0.85, 0.98),
            "abrupt": (0.05, 0.25),
            "press_through_s": (0.06, 0.25),
            "travel": (0.5, 0.9),
            "park_at_limit": (0.0, 0.05),
            "emergency_stop": (0.0, 0.01),
            "reversal": (0.05, 0.15),
            "double_press": (0.01, 0.05),
            "daily_test": (0.8, 1.0),
            "overloaded": (0.0, 0.0),
        },
    }
)
"""The machines and people on which the patterns were written."""

HELD_OUT: Final[Ranges] = MappingProxyType(
    {
        "hoist": {
            **ORDINARY["hoist"],
            "lift_m": (6.0, 14.0),
            "slow_mps": (0.015, 0.08),
            "fast_mps": (0.07, 0.33),
            "contactor_close_s": (0.008, 0.035),
            "contactor_open_s": (0.004, 0.020),
            "release_s": (0.05, 0.36),
            "apply_s": (0.03, 0.23),
            "scatter": (0.06, 0.14),
            "stretch_m": (0.01, 0.10),
            "trip_share": (1.06, 1.25),
            "hold_s": (0.0, 1.5),
        },
        "travel": {**ORDINARY["travel"], "step_up_s": (0.40, 0.9), "dwell_s": (0.15, 0.8)},
        "control": {
            **ORDINARY["control"],
            "scan_s": (0.005, 0.020),
            "dwell_s": (0.05, 0.50),
            "brake_timeout_s": (0.8, 2.0),
            "brake_loss_s": (0.05, 0.30),
            "supervised_share": (0.4, 0.4),
        },
        "habits": {
            **ORDINARY["habits"],
            "cycles_per_h": (4.0, 14.0),
            "jog_run_s": (0.15, 0.7),
            "jog_pause_s": (0.3, 1.3),
            "repeat": (0.0, 0.3),
            "reaction_s": (0.3, 1.5),
            "retry_s": (0.4, 4.0),
            "tolerance_m": (0.02, 0.10),
            "press_through_s": (0.03, 0.5),
            "reversal": (0.0, 0.35),
            "double_press": (0.0, 0.12),
            "emergency_stop": (0.0, 0.03),
        },
    }
)
"""Other machines and other people: wider timings, other habits."""
