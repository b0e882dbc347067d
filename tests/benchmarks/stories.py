"""What is simulated for every seed: a day of each story. Together they make every pattern whose truth is known."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from eventlens.simulation import Faults, Scenario

STORIES: Final = MappingProxyType(
    {
        "ordinary": Scenario(),
        "electrics": Scenario(
            faults=Faults(
                loose_relay={"hoist.raise": 0.02, "bridge.forward": 0.03},
                loose_relay_per_h=1.0,
                dead_relay={"hoist.raise": 0.015, "trolley.left": 0.03},
                fast_dead=0.03,
                confirm_missing=0.008,
                brake_stuck=0.004,
                confirm_lost=0.02,
            )
        ),
        "timer": Scenario(faults=Faults(timer_missing=0.15, timer_short=0.05), habits={"press_through_s": 0.06}),
        "crew": Scenario(
            habits={"jog": 0.4, "snatch": 0.25, "near_rated": 0.5, "too_heavy": 0.03, "repeat": 0.5, "cycles_per_h": 12}
        ),
        "low trip": Scenario(faults=Faults(trip_level=0.75), habits={"emergency_stop": 0.05, "reversal": 0.4}),
        "busy": Scenario(group="M3", habits={"jog": 0.5, "cycles_per_h": 30}),
        "holes": Scenario(faults=Faults(holes_per_day=4.0, supply_dips_per_h=0.5)),
    }
)
