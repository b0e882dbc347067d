"""How often a comparison of two weeks is right: nothing done, half of the work, a repair, parts exchanged.

    python -m tests.benchmarks.repairs --machines 40

Every machine has a loose raise relay and a brake that is late now and then, and another week follows. `nothing`: the
same faults go on; `half`: the same, with work on half of the days; `repair`: without any fault; `moved`: the relay is
now that of lowering. Printed: how many comparisons called a change, and which, and what was said of the exchange. In
`nothing` and `half` every change is false: aim, at most one machine in twenty has one.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import Final

import polars as pl

from eventlens.comparison import compare_reviews
from eventlens.result import Review
from eventlens.simulation import ORDINARY, Faults, Scenario, as_log, simulate
from eventlens.wiring import review_log
from tests.benchmarks.parallel import spread

FAULTY: Final = Faults(loose_relay={"hoist.raise": 0.02}, brake_late=0.01)
AFTER: Final = {
    "nothing": {"faults": FAULTY},
    "half": {"faults": FAULTY, "workdays": (0, 1)},
    "repair": {"faults": Faults()},
    "moved": {"faults": replace(FAULTY, loose_relay={"hoist.lower": 0.02})},
}
CHANGES: Final = ("gone", "less", "worse")

Told = tuple[str, int, list[tuple[str, str]], list[str]]
"""What was done, seed, pattern and verdict of each comparison, verdicts on the exchange of the relay."""


def machine(task: tuple[str, int], *, days: int) -> Told:
    """One machine over two weeks."""
    done, seed = task
    before = Scenario(ranges=ORDINARY, faults=FAULTY, identity=seed, workdays=tuple(range(min(days, 5))))
    changed = {"workdays": before.workdays, **AFTER[done]}
    after = replace(before, start=before.start + timedelta(weeks=1), **changed)  # type: ignore[arg-type]
    sides = _review(before, 2 * seed, days), _review(after, 2 * seed + 1, days)
    found = compare_reviews(*sides, moved=["hoist.raise:hoist.lower"])
    exchanged = found.moved.filter(pl.col("pattern") == "drop_out")["verdict"].to_list()
    return done, seed, [(str(p), str(v)) for p, v in found.patterns.select("pattern", "verdict").rows()], exchanged


def _review(scenario: Scenario, seed: int, days: int) -> Review:
    simulated = simulate(scenario, seed=seed, days=days, step_s=0.02)
    return review_log(as_log(simulated), simulated.machine)


def summary(told: Sequence[Told]) -> list[str]:
    """The lines of the report."""
    lines = []
    for done in AFTER:
        own = [one for one in told if one[0] == done]
        changed = [[row for row in rows if row[1] in CHANGES] for _, _, rows, _ in own]
        counted = Counter(row for rows in changed for row in rows)
        compared = sum(len(rows) for _, _, rows, _ in own)
        lines.append(
            f"{done}: {len(own)} machines, {compared} comparisons, {sum(map(bool, changed))} machines with a change; "
            f"the exchange: {dict(Counter(verdict for one in own for verdict in one[3]))}"
        )
        lines += [f"  {pattern} {verdict} {count}" for (pattern, verdict), count in sorted(counted.items())]
    return lines


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--machines", type=int, default=40)
    parser.add_argument("--days", type=int, default=5)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    tasks = [(done, seed) for done in AFTER for seed in range(given.machines)]
    print("\n".join(summary(list(spread(partial(machine, days=given.days), tasks, given.workers)))))
    return 0


if __name__ == "__main__":
    sys.exit(main())
