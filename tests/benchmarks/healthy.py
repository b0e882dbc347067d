"""What a review says of machines in order: weeks of ordinary hard work without any fault.

    python -m tests.benchmarks.healthy --weeks 1000

Every week is another machine with other people, two shifts a day, at a log step drawn from those that controllers have.
A finding that asks for a repair, or takes the machine out of service, is a false alarm; those that ask to watch are
counted beside them (hard work wears, and is told so). Printed: weeks with such a finding, per hundred weeks, with exact
limits, and each false alarm with the seed that makes it again. Aim: fewer than one in a hundred weeks.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Sequence
from functools import partial
from typing import Final

from eventlens.simulation import HELD_OUT, ORDINARY, Scenario, as_log, simulate
from eventlens.statistics.rates import rate
from eventlens.wiring import review_log
from tests.benchmarks.parallel import spread

STEPS: Final = (0.01, 0.02, 0.05, 0.1, 0.2, 1.0)
SERIOUS: Final = ("out_of_service", "repair")

Found = tuple[int, list[tuple[str, str, str, int]]]
"""Seed, and of each finding: severity, pattern, motion, count."""


def week(seed: int, *, held_out: bool) -> Found:
    """The findings of one machine-week."""
    scenario = Scenario(ranges=HELD_OUT if held_out else ORDINARY, shifts=((6.0, 14.0), (14.0, 22.0)))
    simulated = simulate(scenario, seed=seed, days=7, step_s=STEPS[seed % len(STEPS)])
    findings = review_log(as_log(simulated), simulated.machine).findings
    rows = findings.select("severity", "pattern", "motion", "count").rows()
    return seed, [(str(s), str(p), str(m or ""), int(n)) for s, p, m, n in rows]


def summary(weeks: Sequence[Found]) -> list[str]:
    """The lines of the report."""
    serious = [(seed, one) for seed, found in weeks for one in found if one[0] in SERIOUS]
    bad = len({seed for seed, _ in serious})
    share = rate(bad, len(weeks) / 100)
    lines = [f"{len(weeks)} machine-weeks without a fault"]
    if share:
        lines.append(
            f"{bad} with a finding that asks for a repair or more: {share.value:.2f} per hundred weeks "
            f"(95 % limits {share.low:.2f} to {share.high:.2f})"
        )
    for seed, (severity, pattern, motion, count) in serious:
        lines.append(f"  seed {seed}, step {STEPS[seed % len(STEPS)]:g} s: {severity} {pattern} {motion} x {count}")
    told = Counter((one[0], one[1]) for _, found in weeks for one in found)
    lines += ["weeks with a finding, by pattern:"]
    lines += [f"  {severity:15} {pattern:25} {count:5}" for (severity, pattern), count in sorted(told.items())]
    return lines


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--weeks", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--held-out", action="store_true", help="machines and people of other ranges")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    began = time.perf_counter()
    seeds = range(given.first, given.first + given.weeks)
    weeks = list(spread(partial(week, held_out=given.held_out), seeds, given.workers))
    print("\n".join(summary(weeks)))
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
