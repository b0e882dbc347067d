"""How many hours of another crew are called unusual, and how many of the usual one's.

    python -m tests.benchmarks.unusual --seeds 10 --write unusual.csv

A day is too short for `unusual_period`, which needs forty hours of work: two weeks of a machine with two shifts a day
are simulated, and on one of the last days the late shift is worked by another crew that inches, picks up at speed and
works faster. What is true is known to the people alone: the hours of the clock in which that crew worked. An hour is
found where a period on any motion covers it. Printed: the share of these hours that were found (in all, and of the
shifts of which any was), the delay until the first of them was (the log is ended after each hour of the shift, until
the review says so: hours from the beginning of the shift, the median of those that were noticed before its end), and
the false alarms: periods in which the usual crew worked, for each machine and year of such work, with exact limits; the
hours of these per week; and the same for machines that nobody visits.
"""

from __future__ import annotations

import argparse
import csv
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from statistics import median
from typing import Final

from eventlens.comparison.cut import cut
from eventlens.machine import Machine
from eventlens.reading import Log
from eventlens.simulation import HELD_OUT, ORDINARY, Scenario, Simulated, as_log, simulate
from eventlens.statistics.rates import rate
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
WEEKS_A_YEAR: Final = 365.25 / 7


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
    alarms: int = 0
    """Periods on any motion that hold no visited hour."""
    delay_h: float | None = None
    """From the beginning of the shift to the end of the log that first shows it; None: not within the shift."""


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


def periods(log: Log, machine: Machine) -> list[set[datetime]]:
    """The hours of the clock that each unusual period covers, on any motion."""
    rows = review_log(log, machine).occurrences
    spans = rows.filter(rows["pattern"] == "unusual_period").select("start", "end").iter_rows()
    return [{start + HOUR * number for number in range(round((end - start) / HOUR))} for start, end in spans]


def delay_of(log: Log, machine: Machine, true: set[datetime]) -> float | None:
    """Hours from the first visited hour until the review of the log so far calls one of them unusual."""
    for ended in range(1, len(true) + 1):
        until = min(true) + HOUR * ended
        part = cut(log, until)[0] if until < log.end else log
        if any(hours & true for hours in periods(part, machine)):
            return float(ended)
    return None


def weeks(seed: int, *, held_out: bool = False, visits: bool = True, delays: bool = False) -> Weeks:
    """Two weeks of one machine; delays: how soon the visit is noticed, too."""
    scenario = replace(
        STORY, ranges=HELD_OUT if held_out else ORDINARY, visits=(VISIT_H,) if visits else ((-1.0, 0.0),)
    )
    simulated = simulate(scenario, seed=seed, days=DAYS, step_s=0.02)
    log, true = as_log(simulated), visited(simulated)
    every = periods(log, simulated.machine)
    found = set().union(*every)
    return Weeks(
        seed,
        len(true),
        len(true & found),
        len(found - true),
        simulated.length_s / (7 * 86400.0),
        sum(not hours & true for hours in every),
        delay_of(log, simulated.machine, true) if true and delays else None,
    )


def summary(name: str, done: Sequence[Weeks]) -> list[str]:
    """The lines of the report."""
    true, found, long = (sum(getattr(one, part) for one in done) for part in ("visited", "found", "weeks"))
    noticed = sum(one.found > 0 for one in done)
    lines = [f"{name}: {len(done)} machines, {long:.1f} weeks"]
    if true:
        lines.append(f"  hours of the other crew: {found} of {true} found ({found / true:.3f})")
        lines.append(f"  shifts of which an hour was found: {noticed} of {len(done)}")
        soon = [one.delay_h for one in done if one.delay_h is not None]
        if soon:
            lines.append(
                f"  noticed within the shift: {len(soon)} of {len(done)}, after {median(soon):.1f} h (median; "
                f"{min(soon):.0f} to {max(soon):.0f})"
            )
    wrong = sum(one.wrong for one in done)
    lines.append(f"  hours of the usual crew called unusual: {wrong} ({wrong / long:.3f} a week)")
    alarms = rate(sum(one.alarms for one in done), long / WEEKS_A_YEAR)
    if alarms:
        limits = f"95 % limits {alarms.low:.2f} to {alarms.high:.2f}"
        lines.append(f"  false alarms: {alarms.value:.2f} for each machine and year ({limits})")
    return lines


def write(path: Path, told: Mapping[str, Sequence[Weeks]]) -> None:
    """A row for each machine as CSV."""
    names = [field.name for field in fields(Weeks)]
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["story", *names])
        rows.writerows([story, *(getattr(one, name) for name in names)] for story, done in told.items() for one in done)


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=10, help="how many")
    parser.add_argument("--first", type=int, default=0, help="the first of them")
    parser.add_argument("--held-out", action="store_true", help="machines and people of other ranges")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--write", type=Path, help="a row for each machine as CSV")
    given = parser.parse_args(arguments)
    began, seeds = time.perf_counter(), range(given.first, given.first + given.seeds)
    told = {}
    for name, visits in (("visited", True), ("never visited", False)):
        work = partial(weeks, held_out=given.held_out, visits=visits, delays=True)
        told[name] = list(spread(work, seeds, given.workers))
        print("\n".join(summary(name, told[name])))
    if given.write:
        write(given.write, told)
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
