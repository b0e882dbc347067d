"""What is simulated for every seed: a day of each story. Together they make every pattern whose truth is known."""

from __future__ import annotations

import math
from types import MappingProxyType
from typing import Final

from eventlens.simulation import Faults, Scenario, signals_of

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
        "brakes": Scenario(
            faults=Faults(brake_late=0.05, apply_late=0.05, switch_stuck=3.0, confirm_flicker=0.05, confirm_bounce=1.0),
            control={"brake_loss_s": 1.0, "brake_timeout_s": 1.6},
        ),
        "contactors": Scenario(
            faults=Faults(contactor_slow=0.05, welded=0.02, fast_welded=0.01, stray=4.0),
            control={"supervised_share": 0.0},
        ),
        "contacts": Scenario(
            faults=Faults(
                chatter={
                    "hoist.raise.contactor": 6.0,
                    "hoist.lower.command": 6.0,
                    "hoist.brake.released": 6.0,
                    "trolley.left.contactor": 6.0,
                }
            ),
            control={"supervised_share": 0.0},
        ),
        "lost": Scenario(
            faults=Faults(
                lost={"hoist.raise": (9.0, 9.5), "trolley.left": (10.0, math.inf), "hoist.fast": (12.0, 12.5)}
            )
        ),
        "devices": Scenario(
            faults=Faults(device_fault_per_day=4.0, limit_drive=0.1),
            habits={"emergency_stop": 0.05},
            hoist={"heat_steady": 3.0, "heat_kick": 0.02},
            signals=(*signals_of(), "overload.fault"),
        ),
        "holes": Scenario(faults=Faults(holes_per_day=4.0, supply_dips_per_h=0.5)),
        "interlock": Scenario(
            faults=Faults(welded=0.1, welded_s=(0.15, 6.0), interlock_lost=True),
            habits={"reversal": 0.8, "jog": 0.6},
        ),
        "all in slow": Scenario(habits={"fast_share": 0.1}, limits={"run_longest_s": 60.0}),
        "long rests": Scenario(
            shifts=((1.0, 2.0), (8.0, 9.0), (15.0, 16.0)),
            limits={"idle_longest_s": 5 * 3600.0},
            faults=Faults(holes_per_day=1.0),
        ),
        "frozen": Scenario(
            faults=Faults(
                frozen={"hoist.brake.released": 8.8, "hoist.fast.command": 11.5, "bridge.forward.command": 8.8}
            )
        ),
        "untripped": Scenario(
            faults=Faults(trip_level=1.3),
            habits={"overloaded": 0.3},
            cell_share=0.01,
            signals=signals_of(load=True),
        ),
    }
)
