"""Machines with one known cause of trouble, to score a ranking of causes: physics only, drawn with a seed.

Each cause is a fault of the machine or a way of using it, with parameters of its own (rates, beginning, growth,
direction, place) drawn for each seed, over two to four weeks with a few lifts a day. Ranges are judgement, scaled from
months to these weeks.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final, Literal

from eventlens.simulation.causes import brakes, contacts, loads, records, supplies, unknown, uses
from eventlens.simulation.causes.machine import FaultyCrane, FaultyDice
from eventlens.simulation.causes.plan import Plan
from eventlens.simulation.faults import Dice, Faults
from eventlens.simulation.hoist import Build
from eventlens.simulation.scenario import Scenario, Simulated, signals_of, simulate

HEALTHY: Final = "healthy"
"""Name of the machine without any cause."""
_PLANS: Final[Mapping[str, Callable[[random.Random, int], Plan]]] = MappingProxyType(
    brakes.CAUSES | contacts.CAUSES | supplies.CAUSES | loads.CAUSES | uses.CAUSES | records.CAUSES | unknown.UNKNOWN
)
UNKNOWN: Final = tuple(unknown.UNKNOWN)
"""Faults that are in no list of causes."""
CAUSES: Final = tuple(name for name in _PLANS if name not in UNKNOWN)
"""Causes that can be simulated."""
FULL: Final = (
    *signals_of(load=True),
    "rope.slack",
    "supply.phase_fault",
    "hoist.height_m",
    "trolley.position_m",
    "bridge.position_m",
)
"""Everything that tells causes apart."""
FEW: Final = ("hoist.raise.command", "hoist.lower.command", "hoist.fast.command", "hoist.brake.released")
"""The least that a log of a hoist holds."""
USUAL: Final = MappingProxyType({"cycles_per_h": 1.3, "emergency_stop": 0.0, "jog": 0.01})
"""Habits of all these machines, where a cause says nothing else: a few lifts an hour."""


def plan_of(cause: str, seed: int) -> tuple[Plan, int]:
    """What a cause makes of the machine of a seed, and how many days it is watched."""
    if cause != HEALTHY and cause not in _PLANS:
        raise ValueError(f"no cause {cause!r} can be simulated; there are {', '.join(_PLANS)}")
    rng = random.Random(f"cause {cause} {seed}")
    days = rng.randint(14, 26)
    return (_PLANS[cause](rng, days) if cause != HEALTHY else Plan()), days


def simulate_cause(
    cause: str, seed: int, *, step_s: float = 0.02, signals: Literal["full", "few"] = "full", days: int | None = None
) -> Simulated:
    """Two to four weeks (10 to 20 working days) of a machine with one cause of trouble, logged at a step [s].

    cause: one of CAUSES, UNKNOWN or HEALTHY; signals: `few` = commands and brake confirmation of the hoist only;
    days: calendar days, instead of the drawn number. What befalls the record itself (`clock`, `controller_log`) is in
    the recording: read it as a dump. The truth of patterns is not kept for these machines.
    """
    plan, drawn = plan_of(cause, seed)
    length = drawn if days is None else days

    def machine(build: Build, dice: Dice, rng: random.Random) -> FaultyCrane:
        return FaultyCrane(build, FaultyDice(Faults(), seed, plan.troubles), rng, length, seed)

    habits = {**USUAL, **plan.habits}
    scenario = Scenario(
        hoist=plan.hoist,
        control=plan.control,
        habits=habits,
        second_crew=None if plan.second_crew is None else {**habits, **plan.second_crew},
        shifts=((6.0, 10.0), (14.0, 18.0)),
        signals=FULL if signals == "full" else FEW,
        heartbeat_s=300.0,
    )
    done = simulate(scenario, seed=seed, days=length, step_s=step_s, machine=machine, people=plan.people)
    if plan.record is None:
        return done
    return replace(done, recording=plan.record(done.recording, random.Random(f"record {cause} {seed}")))
