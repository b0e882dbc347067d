"""Hours of full load and the date at which they end, against simulated machines whose use is known.

    python -m tests.benchmarks.life --seeds 300

Every seed is one week of one of three machines, each with traits and people of its own; between its weeks only chance
differs. What was used is summed up run by run in plain Python from the hidden machine: exact times of the contactors,
and the load on the hook. Printed: how far the review's hours of full load are from that (aim: within 1 %), and how
often the forecast's interval holds the date that the machine's own mean rate leads to, taken over all of its other
weeks (aim: 90 to 99 % of the seeds for a nominal 95 %).
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from scipy import special

from eventlens.machine import Life
from eventlens.simulation import Scenario, Simulated, as_log, signals_of, simulate
from eventlens.wiring import review_log
from tests.benchmarks.parallel import spread

DAYS: Final = 7
USED_BEFORE_H: Final = 1580.0
"""Of the 1600 hours of full load of group M5 (FEM 9.755): the end is near enough for a date."""

MACHINES: Final = tuple(
    Scenario(
        rated_kg=rated,
        group="M5",
        identity=identity,
        signals=signals_of(("hoist",), load=True),
        shifts=shifts,
        habits=habits,
    )
    for rated, identity, shifts, habits in (
        (5000.0, 21, ((6.0, 14.0),), {"cycles_per_h": 6.0}),
        (3200.0, 22, ((6.0, 14.0), (14.0, 22.0)), {"cycles_per_h": 4.0, "near_rated": 0.4}),
        (2000.0, 23, ((8.0, 12.0),), {"cycles_per_h": 10.0, "load_mean": 0.6}),
    )
)


@dataclass(frozen=True)
class Week:
    """What one week showed."""

    machine: int
    true_h: float
    """Hours of full load that were used, by the hidden machine."""
    found_h: float
    """By the review of its log."""
    low: float | None
    """The rate's interval [hours of full load a day]."""
    high: float | None
    remaining_h: float
    earliest_days: float | None
    """The forecast, counted from the end of the log; None: not within two hundred years."""
    latest_days: float | None


def week(seed: int) -> Week:
    """One machine-week: simulated, logged, reviewed, and summed up by hand."""
    number = seed % len(MACHINES)
    simulated = simulate(MACHINES[number], seed=seed, days=DAYS, step_s=0.02)
    plate = simulated.machine.model_copy(update={"life": Life(used_before_h=USED_BEFORE_H)})
    log = as_log(simulated)
    life = review_log(log, plate).life["hoist"]
    period, rate, end = life.period, life.period_rate, life.period_end
    if period is None or rate is None or end is None:
        raise AssertionError(f"seed {seed}: wanted a safe working period, got none")

    def days(of: object) -> float | None:
        return (of - log.end) / timedelta(days=1) if of else None  # type: ignore[operator, no-any-return]

    return Week(
        number,
        true_full_load_h(simulated) * period.factor,
        period.in_log_h,
        rate.low,
        rate.high,
        period.remaining_h,
        days(end.earliest),
        days(end.latest),
    )


def true_full_load_h(simulated: Simulated) -> float:
    """Hours of full load of the hidden hoist: for each run the load cubed over its time, in plain Python."""
    rated, track = simulated.scenario.rated_kg, simulated.tracks["load.kg"]
    steps = [
        (begin, end, max(load, 0.0)) for (begin, load), (end, _) in zip(track, [*track[1:], (1e12, 0.0)], strict=True)
    ]
    total, at = 0.0, 0
    for _, start, stop, _ in sorted(simulated.runs["hoist"], key=lambda run: run[1]):
        while at < len(steps) and steps[at][1] <= start:
            at += 1
        here = at
        while here < len(steps) and steps[here][0] < stop:
            begin, end, load = steps[here]
            total += (load / rated) ** 3 * (min(end, stop) - max(begin, start))
            here += 1
    return total / 3600


def covered(weeks: Sequence[Week]) -> list[bool]:
    """For each week: the interval holds the date of the machine's mean rate over its other weeks."""
    found = []
    for one in weeks:
        others = [other.true_h for other in weeks if other.machine == one.machine and other is not one]
        true_days = one.remaining_h / (sum(others) / len(others) / DAYS)
        early = one.earliest_days is not None and one.earliest_days <= true_days
        found.append(early and (one.latest_days is None or true_days <= one.latest_days))
    return found


def exact_limits(hits: int, tries: int) -> tuple[float, float]:
    """Clopper-Pearson limits of a share, 95 %."""
    low = float(special.betaincinv(hits, tries - hits + 1, 0.025)) if hits else 0.0
    high = float(special.betaincinv(hits + 1, tries - hits, 0.975)) if hits < tries else 1.0
    return low, high


def summary(weeks: Sequence[Week]) -> list[str]:
    """The lines of the report."""
    held = covered(weeks)
    off = [abs(one.found_h / one.true_h - 1) for one in weeks]
    low, high = exact_limits(sum(held), len(held))
    lines = [
        f"{len(weeks)} machine-weeks",
        f"hours of full load: off by {100 * max(off):.3f} % at most, {100 * sum(off) / len(off):.3f} % in the mean",
        f"forecast: {sum(held)} of {len(held)} intervals hold the true date, {100 * sum(held) / len(held):.1f} % "
        f"(95 % limits {100 * low:.1f} to {100 * high:.1f})",
    ]
    for number in range(len(MACHINES)):
        own = [hit for hit, one in zip(held, weeks, strict=True) if one.machine == number]
        used = [one.true_h for one in weeks if one.machine == number]
        if own:
            mean = sum(used) / len(used)
            spread_of = (sum((value - mean) ** 2 for value in used) / max(len(used) - 1, 1)) ** 0.5
            lines.append(
                f"  machine {number}: {sum(own)} of {len(own)}; {mean:.3f} hours of full load a week, give or take "
                f"{100 * spread_of / mean:.0f} %"
            )
    return lines


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=300)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    began = time.perf_counter()
    weeks = list(spread(week, range(given.first, given.first + given.seeds), given.workers))
    print("\n".join(summary(weeks)))
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
