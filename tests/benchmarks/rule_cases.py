"""The rules of the form "N times in T": choices of N and T that are tried, and the ways of work they are tried on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from itertools import product
from types import MappingProxyType
from typing import Any, Final

import polars as pl

from eventlens import signals
from eventlens.duty.windows import HOUR_S, TEN_MINUTES_S
from eventlens.patterns import Context
from eventlens.patterns._tries import direction_tries
from eventlens.simulation import Faults, Scenario

IN_ORDER: Final = "in order"
"""The scenario of machines and people in order."""

SCENARIOS: Final = MappingProxyType(
    {
        IN_ORDER: Scenario(habits={"park_at_limit": 0.0}),
        "inching crew": Scenario(habits={"jog": 0.3}),
        "careful crew": Scenario(habits={"jog": 0.0, "tolerance_m": 0.015, "double_press": 0.3, "reversal": 0.4}),
        "loose contacts": Scenario(
            faults=Faults(chatter={"hoist.raise.contactor": 6.0, "hoist.lower.command": 6.0}),
            control={"supervised_share": 0.0},
        ),
        "function lost for half an hour": Scenario(faults=Faults(lost={"hoist.raise": (9.0, 9.5)})),
        "relay that fails one try in three": Scenario(faults=Faults(dead_relay={"hoist.raise": 0.33})),
        "relay that fails one try in twenty": Scenario(faults=Faults(dead_relay={"hoist.raise": 0.05})),
        "limit as a stop": Scenario(faults=Faults(limit_drive=0.1)),
        "daily test": Scenario(habits={"daily_test": 1.0, "park_at_limit": 0.0}),
        "above its group": Scenario(habits={"jog": 1.0, "cycles_per_h": 40}),
        "brisk work": Scenario(habits={"cycles_per_h": 12}),
        "trying again": Scenario(habits={"too_heavy": 0.05, "snatch": 0.2, "repeat": 0.8}),
        "lowering after a trip": Scenario(habits={"too_heavy": 0.05, "snatch": 0.2, "repeat": 0.0}),
    }
)
"""Ways of work, by name."""


Alarms = Callable[[pl.DataFrame, Context, str, Any], list[datetime]]
"""What a pattern found on a motion, with its context and parameters -> instants at which the rule was fulfilled."""


def each_end(found: pl.DataFrame, context: Context, motion: str, p: Any) -> list[datetime]:
    """The end of each occurrence."""
    return found["end"].to_list()


def window_full(found: pl.DataFrame, context: Context, motion: str, p: Any, *, window_s: float) -> list[datetime]:
    """The end of the first window [s] of each stretch: an hour of starts, ten minutes of running time."""
    return (found["start"] + timedelta(seconds=window_s)).to_list()


def nth(found: pl.DataFrame, context: Context, motion: str, p: Any) -> list[datetime]:
    """The end of the try that completed the first row of an output; each try in a row is an occurrence."""
    least = round(p.lost_tries)
    return [part["end"][least - 1] for part in found.partition_by("signal") if part.height >= least]


def share_reached(found: pl.DataFrame, context: Context, motion: str, p: Any) -> list[datetime]:
    """The end of the try at which enough had been made, and enough of them had failed."""
    instants: list[datetime] = []
    for way in signals.MOTIONS[motion] if found.height else ():
        tried = direction_tries(context, motion, way, p.no_start_s, p.contactor_close_s)
        made = pl.int_range(1, pl.len() + 1)
        lost = (made >= p.lost_least_tries) & (pl.col("failed").cum_sum() > p.lost_share * made)
        instants += tried.filter(lost)["end"].head(1).to_list()
    return instants


@dataclass(frozen=True)
class Rule:
    """One pattern whose definition counts N in T."""

    pattern: str
    number: str
    """Name of the limit that is N; "once", where one is enough."""
    numbers: tuple[float, ...]
    time: str
    """Name of the limit that is T; where T is no limit what it is: an hour, ten minutes."""
    times: tuple[float, ...]
    faulty: str
    neighbour: str
    """What the rule should pass."""
    alarms: Alarms = each_end
    """The instants at which it is fulfilled."""
    fixed_s: float = 0.0
    """T [s] where it is no limit."""
    fixed: Mapping[str, float] = field(default_factory=dict)
    """Other limits, the same for every choice."""
    usual: Mapping[str, float] | None = None
    """The choice that is marked, where the limit has no default of its own but comes from a group: FEM 9.683, M4."""
    since_h: float = 0.0
    """Hour of the day at which the fault begins; 0: with the work."""

    @property
    def choices(self) -> list[dict[str, float]]:
        """Every choice of N and T as limits."""
        numbers = [{self.number: n} for n in self.numbers] if self.number != "once" else [{}]
        times = [{self.time: t} for t in self.times] if not self.fixed_s else [{}]
        return [n | t for n, t in product(numbers, times)]


RULES: Final = (
    Rule(
        "jogging",
        "jog_burst",
        (2, 3, 4, 5, 6),
        "jog_pause_s",
        (1.0, 2.0, 3.0),
        faulty="inching crew",
        neighbour="careful crew",
    ),
    Rule(
        "chatter",
        "chatter_pairs",
        (2, 3, 4, 5),
        "chatter_window_s",
        (0.5, 1.0, 2.0),
        faulty="loose contacts",
        neighbour="inching crew",
    ),
    Rule(
        "lost_function",
        "lost_tries",
        (2, 3, 4, 5),
        "no_start_s",
        (0.5, 0.7, 1.5),
        faulty="function lost for half an hour",
        neighbour="relay that fails one try in twenty",
        alarms=nth,
        fixed={"lost_share": 1.0},
        since_h=9.0,
    ),
    Rule(
        "lost_function",
        "lost_share",
        (0.05, 0.1, 0.2, 0.3, 0.5),
        "lost_least_tries",
        (10.0, 20.0, 40.0),
        faulty="relay that fails one try in three",
        neighbour="relay that fails one try in twenty",
        alarms=share_reached,
        fixed={"lost_tries": 1e6},
    ),
    Rule(
        "limit_as_stop",
        "once",
        (1,),
        "daily_test_within_s",
        (300.0, 600.0, 1800.0, 3600.0),
        faulty="limit as a stop",
        neighbour="daily test",
    ),
    Rule(
        "overload_repeat",
        "once",
        (1,),
        "overload_repeat_s",
        (5.0, 10.0, 30.0, 60.0, 300.0),
        faulty="trying again",
        neighbour="lowering after a trip",
    ),
    Rule(
        "starts_per_hour_high",
        "hoist_starts_per_hour",
        (90, 120, 150, 180, 240, 300),
        "an hour",
        (),
        faulty="above its group",
        neighbour="brisk work",
        alarms=partial(window_full, window_s=HOUR_S),
        fixed_s=HOUR_S,
        fixed={"hoist_cyclic_duration": 0.3},
        usual={"hoist_starts_per_hour": 180},
    ),
    Rule(
        "cyclic_duration_high",
        "hoist_cyclic_duration",
        (0.2, 0.3, 0.4, 0.5, 0.6),
        "ten minutes",
        (),
        faulty="above its group",
        neighbour="brisk work",
        alarms=partial(window_full, window_s=TEN_MINUTES_S),
        fixed_s=TEN_MINUTES_S,
        fixed={"hoist_starts_per_hour": 180},
        usual={"hoist_cyclic_duration": 0.3},
    ),
)
