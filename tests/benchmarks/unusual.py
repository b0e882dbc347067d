"""How many hours of another crew are called unusual, and how many of the usual one's.

    python -m tests.benchmarks.unusual --seeds 10

A day is too short for `unusual_period`, which needs forty hours of work: two weeks of a machine with two shifts a day
are simulated, and on one of the last days the late shift is worked by another crew that inches, picks up at speed and
works faster. What is true is known to the people alone: the hours of the clock in which that crew worked. An hour is
found where a period on any motion covers it. Printed: the share of these hours that were found (in all, and of the
shifts of which any was), and the hours that were called unusual though the usual crew worked, per week; and the same
false hours for machines that nobody visits.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from typing import Final

from eventlens.simulation import HELD_OUT, ORDINARY, Scenario, Simulated, as_log, simulate
from eventlens.wiring import review_log
from tests.benchmarks.parallel import spread

DAYS: Final = 12
"""Two working weeks, from a Monday."""
VISIT_H: Final = (9 * 24 + 14.0, 9 * 24 + 15.0)
"""The shift that begins in these hours: the late one of the second Wednesday."""
STORY: Final = Scenario(
    shifts=((6.0, 14.0), (14.0, 22.0)),
    second_crew={"jog": 0.6, "snatch": 0.2, "cycles_per_h": 14.0, "fast_share": 0.6},
    visits=(VISIT_H,),
    timezone="UTC",
)
HOUR: Final = timedelta(hours=1)


@dataclass(frozen=True)
class Weeks:
    """What was found in one machine's weeks, in hours of the clock."""

    seed: int
    visited: int
    found: int
    """Of the visited hours."""
    wrong: int
    """Hours called unusual in which the usual crew worked."""
    weeks: float


def visited(simulated: Simulated) -> set[datetime]:
    """The whole hours of the clock in which the other crew began a run: truth that only the simulation knows."""
    scenario, hours = simulated.scenario, set()
    begin = [(day * 24 + shift[0], day * 24 + shift[1]) for day in range(DAYS) for shift in scenario.shifts]
    worked = [span for span in begin if any(a <= span[0] < b for a, b in scenario.visits)]
    for runs in simulated.runs.values():
        for _, start, _, _ in runs:
            if any(a <= start / 3600.0 < b for a, b in worked):
                hours.add(simulated.start + HOUR * int(start // 3600.0))
    return hours


def hours_found(simulated: Simulated) -> set[datetime]:
    """The hours of the clock that a period on any motion covers."""
    rows = review_log(as_log(simulated), simulated.machine).occurrences
    hours = set()
    for start, end in rows.filter(rows["pattern"] == "unusual_period").select("start", "end").iter_rows():
        hours |= {start + HOUR * number for number in range(round((end - start) / HOUR))}
    return hours


def weeks(seed: int, *, held_out: bool = False, visits: bool = True) -> Weeks:
    """Two weeks of one machine."""
    scenario = replace(
        STORY, ranges=HELD_OUT if held_out else ORDINARY, visits=(VISIT_H,) if visits else ((-1.0, 0.0),)
    )
    simulated = simulate(scenario, seed=seed, days=DAYS, step_s=0.02)
    true, found = visited(simulated), hours_found(simulated)
    return Weeks(seed, len(true), len(true & found), len(found - true), simulated.length_s / (7 * 86400.0))


def summary(name: str, done: Sequence[Weeks]) -> list[str]:
    """The lines of the report."""
    true, found, long = (sum(getattr(one, part) for one in done) for part in ("visited", "found", "weeks"))
    noticed = sum(one.found > 0 for one in done)
    lines = [f"{name}: {len(done)} machines, {long:.1f} weeks"]
    if true:
        lines.append(f"  hours of the other crew: {found} of {true} found ({found / true:.3f})")
        lines.append(f"  shifts of which an hour was found: {noticed} of {len(done)}")
    wrong = sum(one.wrong for one in done)
    lines.append(f"  hours of the usual crew called unusual: {wrong} ({wrong / long:.3f} a week)")
    return lines


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=10, help="how many")
    parser.add_argument("--first", type=int, default=0, help="the first of them")
    parser.add_argument("--held-out", action="store_true", help="machines and people of other ranges")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    began, seeds = time.perf_counter(), range(given.first, given.first + given.seeds)
    for name, visits in (("visited", True), ("never visited", False)):
        done = list(spread(partial(weeks, held_out=given.held_out, visits=visits), seeds, given.workers))
        print("\n".join(summary(name, done)))
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
