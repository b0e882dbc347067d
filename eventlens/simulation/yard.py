"""The invented yard of the demonstration, Harrow Quay Stoneworks: six hoists, each with its story over the weeks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from eventlens.simulation.faults import Faults
from eventlens.simulation.scenario import Scenario, signals_of

FIRST_DAY: Final = date(2026, 3, 2)
"""Monday of ISO week 2026-W10."""

STEP_S: Final = 0.02
"""Log step of all three generations [s]."""

Tell = Callable[[Scenario, int], Scenario]
"""A machine as it is, and the number of the week (from 1) -> the machine as it is in that week."""


@dataclass(frozen=True)
class Story:
    """One machine of the yard."""

    machine: Scenario
    dialect: str
    about: str
    tell: Tell
    used_before_h: float = 0.0
    stops_before: int = 0
    """Stops that the brake had made before the first week."""
    operations_before: int = 0
    """Operations of the contactor and the relay of each direction before it, since they were last renewed."""
    clock_set_back_week: int | None = None
    wrapped_week: int | None = None


def _machine(
    name: str, rated_kg: float, group: str, identity: int, motions: tuple[str, ...], *, load: bool = False
) -> Scenario:
    return Scenario(
        id=name,
        rated_kg=rated_kg,
        group=group,
        identity=identity,
        signals=signals_of(motions, load=load),
        heartbeat_s=120.0,
        hoist={"fast_mps": 0.16, "slow_mps": 0.04, "lift_m": 5.0},
        habits={"cycles_per_h": 4.0, "emergency_stop": 0.004},
    )


def _quiet(machine: Scenario, week: int) -> Scenario:
    return machine


def _loose_relay(machine: Scenario, week: int) -> Scenario:
    """The raise relay works itself loose, a little more each week, until it is exchanged before week 9."""
    if week >= 9:
        return machine
    shaken, dead = 0.004 * 1.45 ** (week - 1), 0.006 * max(0, week - 4)
    return replace(
        machine,
        faults=Faults(
            loose_relay={"hoist.raise": shaken}, loose_relay_per_h=0.05 * week, dead_relay={"hoist.raise": dead}
        ),
    )


def _worn_lining(machine: Scenario, week: int) -> Scenario:
    """The lining wears and is renewed before week 8; whoever looked for the fault in week 7 left the timer bridged."""
    worn = Faults(lining_wear_s=0.05 * (week - 1), confirm_missing=0.004 * max(0, week - 5)) if week < 8 else Faults()
    return replace(machine, faults=replace(worn, timer_missing=1.0 if week >= 7 else 0.0))


def _over_group(machine: Scenario, week: int) -> Scenario:
    """More and more work from week 4 on, until the motor trips."""
    busy = {"cycles_per_h": min(4.0 + 6.0 * max(0, week - 3), 40.0), "jog": min(0.02 * week, 0.2)}
    return replace(machine, habits={**machine.habits, **busy})


def _rough_crew(machine: Scenario, week: int) -> Scenario:
    """From week 5 on another crew works the late shift: it jogs, snatches, and tries again after a trip."""
    if week < 5:
        return machine
    rough = {"jog": 0.4, "snatch": 0.3, "near_rated": 0.5, "too_heavy": 0.03, "repeat": 0.5}
    return replace(machine, second_crew={**machine.habits, **rough})


def _spare(machine: Scenario, week: int) -> Scenario:
    """Used now and then; its logger is switched off at times."""
    return replace(machine, workdays=(1, 3) if week % 2 else (2,), faults=Faults(holes_per_day=0.15))


STORIES: Final = (
    Story(
        _machine("SLAB-1", 5000.0, "M5", 11, ("hoist",), load=True),
        "samples",
        "its raise relay works itself loose and is exchanged before week 9",
        _loose_relay,
        used_before_h=410.0,
        stops_before=190_000,
        operations_before=95_000,
    ),
    Story(
        replace(
            _machine("SLAB-2", 5000.0, "M5", 12, ("hoist",), load=True),
            habits={"cycles_per_h": 4.0, "emergency_stop": 0.004, "near_rated": 0.0, "snatch": 0.0},
        ),
        "samples",
        "in order throughout",
        _quiet,
        used_before_h=395.0,
        stops_before=180_000,
        operations_before=90_000,
    ),
    Story(
        replace(
            _machine("SAW-3", 3200.0, "M5", 13, ("hoist", "trolley")),
            habits={"cycles_per_h": 4.0, "press_through_s": 0.045},
            hoist={"fast_mps": 0.16, "slow_mps": 0.04, "lift_m": 5.0, "release_s": 0.22},
            control={"brake_timeout_s": 1.2},
        ),
        "changes",
        "its brake lining wears and is renewed before week 8; its speed-change timer is missing from week 7 on",
        _worn_lining,
        used_before_h=1240.0,
        stops_before=620_000,
        operations_before=240_000,
    ),
    Story(
        replace(
            _machine("POLISH-4", 2000.0, "M3", 14, ("hoist", "trolley")),
            hoist={
                "fast_mps": 0.16,
                "slow_mps": 0.04,
                "lift_m": 4.0,
                "heat_steady": 2.3,
                "heat_kick": 0.004,
                "heat_tau_s": 1800.0,
            },
        ),
        "changes",
        "worked above its group from week 4 on, until its motor trips",
        _over_group,
        used_before_h=300.0,
        stops_before=240_000,
        operations_before=120_000,
    ),
    Story(
        replace(
            _machine("DOCK-5", 6300.0, "M5", 15, ("hoist", "bridge")),
            hoist={"fast_mps": 0.2, "slow_mps": 0.05, "lift_m": 7.0, "stretch_m": 0.03},
            habits={"cycles_per_h": 3.0, "snatch": 0.0},
            shifts=((6.0, 14.0), (14.0, 22.0)),
        ),
        "words",
        "another crew on the late shift from week 5 on: jogging, snatching, repeated tries after overload trips",
        _rough_crew,
        used_before_h=880.0,
        stops_before=410_000,
        operations_before=30_000,
    ),
    Story(
        replace(_machine("SPARE-6", 3200.0, "M4", 16, ("hoist", "bridge")), shifts=((8.0, 12.0),)),
        "words",
        "seldom used; its clock is set back in week 6, its dump of week 10 comes from a ring buffer that wrapped",
        _spare,
        used_before_h=35.0,
        stops_before=15_000,
        operations_before=7_500,
        clock_set_back_week=6,
        wrapped_week=10,
    ),
)
"""The six machines."""
