"""Rules of the form "N times in T": what each choice of N and T costs in false, missed and late alarms.

    python -m tests.benchmarks.rules --days 40

The operator model works in two ways: machines and people in order, who inch now and then as everybody does, and the
same with the fault or habit that the rule is for. An alarm on a day in order is false; a day with the habit and
without an alarm is missed; the delay counts working hours from the beginning of the shift to the first alarm.
Each choice is one line; `*` marks the default.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import product
from typing import Final

import polars as pl

from eventlens.machine import Machine
from eventlens.simulation import Faults, Scenario, Simulated, as_log, simulate
from eventlens.wiring import known_limits, review_log
from tests.benchmarks.parallel import spread


@dataclass(frozen=True)
class Rule:
    """One pattern whose definition counts N in T."""

    pattern: str
    number: str
    """Name of the limit that is N."""
    numbers: tuple[float, ...]
    time: str
    """Name of the limit that is T [s]; of lost functions, how long a try must be held."""
    times: tuple[float, ...]
    faulty: Scenario


RULES: Final = (
    Rule(
        "jogging",
        "jog_burst",
        (2, 3, 4, 5, 6),
        "jog_pause_s",
        (1.0, 2.0, 3.0),
        Scenario(habits={"jog": 0.3}),
    ),
    Rule(
        "chatter",
        "chatter_pairs",
        (2, 3, 4, 5),
        "chatter_window_s",
        (0.5, 1.0, 2.0),
        Scenario(
            faults=Faults(chatter={"hoist.raise.contactor": 6.0, "hoist.lower.command": 6.0}),
            control={"supervised_share": 0.0},
        ),
    ),
    Rule(
        "lost_function",
        "lost_tries",
        (2, 3, 4, 5),
        "no_start_s",
        (0.5, 0.7, 1.5),
        Scenario(faults=Faults(lost={"hoist.raise": (9.0, 9.5)})),
    ),
)


@dataclass(frozen=True)
class Day:
    """Whether a day gave an alarm under each choice, and after how many hours of work."""

    faulty: bool
    first_h: tuple[float | None, ...]


def choices(rule: Rule) -> list[dict[str, float]]:
    """Every choice of N and T as limits."""
    return [{rule.number: n, rule.time: t} for n, t in product(rule.numbers, rule.times)]


def day(task: tuple[int, bool], *, number: int) -> Day:
    """One simulated day under every choice of a rule, by its number."""
    rule, (seed, faulty) = RULES[number], task
    simulated = simulate(rule.faulty if faulty else Scenario(), seed=seed, step_s=0.01)
    return Day(faulty, tuple(_first_h(simulated, rule.pattern, limits) for limits in choices(rule)))


def _first_h(simulated: Simulated, pattern: str, limits: dict[str, float]) -> float | None:
    plate = simulated.machine
    machine = Machine(machine=plate.machine, limits=limits)
    found = review_log(as_log(simulated), machine).occurrences.filter(pl.col("pattern") == pattern)
    if found.is_empty():
        return None
    begin = simulated.scenario.shifts[0][0]
    end = found["end"].min()
    return (end - simulated.start).total_seconds() / 3600 - begin  # type: ignore[operator, union-attr]


def lines_of(rule: Rule, days: Sequence[Day]) -> list[str]:
    """The table of one rule."""
    known = {item.name: item.default for item in known_limits()}
    lines = [
        f"{rule.pattern}: {rule.number} (N) in {rule.time} (T)",
        f"  {'N':>4} {'T [s]':>6} {'false/day':>10} {'missed':>8} {'delay [h]':>10}",
    ]
    for place, limits in enumerate(choices(rule)):
        alarms = {kind: [d.first_h[place] for d in days if d.faulty is kind] for kind in (False, True)}
        false = sum(a is not None for a in alarms[False]) / max(len(alarms[False]), 1)
        missed = sum(a is None for a in alarms[True]) / max(len(alarms[True]), 1)
        waits = sorted(a for a in alarms[True] if a is not None)
        delay = f"{waits[len(waits) // 2]:10.2f}" if waits else f"{'-':>10}"
        mark = "*" if all(known[name] == value for name, value in limits.items()) else " "
        n, t = limits.values()
        lines.append(f"{mark} {n:4g} {t:6g} {false:10.3f} {missed:8.3f} {delay}")
    return lines


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--days", type=int, default=40, help="of each of the two ways of work")
    parser.add_argument("--first", type=int, default=3000, help="the first seed")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    tasks = [(seed, faulty) for seed in range(given.first, given.first + given.days) for faulty in (False, True)]
    for number, rule in enumerate(RULES):
        print("\n".join(lines_of(rule, list(spread(partial(day, number=number), tasks, given.workers)))))
    return 0


if __name__ == "__main__":
    sys.exit(main())
