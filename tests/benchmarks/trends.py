"""What trends say of machines on which nothing changes, and how soon they see a brake lining wear.

    python -m tests.benchmarks.trends --machines 20 --weeks 12

`stable`: the same machine, people and small faults in every week. Every week beyond the limits of a chart, every trend
and every drift is a false alarm. Aims: weeks beyond the limits no more than the nominal rate; machines with a trend of
a rate, and machines with a drift of a time, no more than 5 in 100 each. `wear`: the lining adds 0.02 s to the release
each week; every week the trends are made anew from the weeks so far. Aim: the release time is called longer before the
first `brake_release_late`.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import Final

import polars as pl

from eventlens.simulation import Faults, Scenario, as_log, signals_of, simulate
from eventlens.statistics.charts import FALSE_ALARM
from eventlens.statistics.rates import LEVEL, rate
from eventlens.trends import Weeks, gather, trends_of, weeks_of
from eventlens.trends.times import time_trends
from eventlens.wiring import review_log
from tests.benchmarks.parallel import spread

SMALL: Final = Faults(loose_relay={"hoist.raise": 0.004}, confirm_missing=0.002, timer_short=0.01)
WEAR_S: Final = 0.02
"""What the lining adds to the release each week [s]."""

Told = tuple[str, int, list[str], int, int, int | None, int | None]
"""Story, machine; what was called changed; weeks beyond limits, weeks on charts; week in which the release time was
first called longer, and week of the first late release (from 1)."""


def machine(task: tuple[str, int], *, weeks: int, days: int = 5) -> Told:
    """One machine over some weeks."""
    story, seed = task
    base = Scenario(
        id=f"M{seed}",
        identity=seed,
        faults=SMALL,
        signals=signals_of(("hoist",)),
        heartbeat_s=120.0,
        hoist={"release_s": 0.22} if story == "wear" else {},
        habits={"cycles_per_h": 6.0},
        workdays=tuple(range(days)),
    )
    parts: list[Weeks] = []
    seen = late = None
    for number in range(weeks):
        parts.append(_week(base, story, seed, number))
        if story == "wear" and late is None:
            fresh = parts[-1].counts.filter(pl.col("pattern") == "brake_release_late")["count"].sum()
            late = number + 1 if fresh else None
        if story == "wear" and seen is None:
            drifts, _ = time_trends(gather(parts).times, LEVEL)
            longer = drifts.filter(pl.col("verdict") == "longer")["time"].to_list()
            seen = number + 1 if "release_time_s" in longer else None
    found = trends_of(gather(parts))
    changed = found.rates.filter(pl.col("verdict").cast(pl.String).is_in(["rising", "falling", "uneven"]))
    moved = found.times.filter(pl.col("verdict").cast(pl.String).is_in(["longer", "shorter"]))
    called = [f"rate {p} {v}" for p, v in changed.select("pattern", "verdict").rows()]
    called += [f"time {t} {v}" for t, v in moved.select("time", "verdict").rows()]
    on_chart = found.weekly.filter("judged")
    return story, seed, called, int(on_chart["beyond"].abs().sum()), on_chart.height, seen, late


def _week(base: Scenario, story: str, seed: int, number: int) -> Weeks:
    worn = replace(SMALL, lining_wear_s=WEAR_S * number) if story == "wear" else SMALL
    scenario = replace(base, start=base.start + timedelta(weeks=number), faults=worn)
    simulated = simulate(scenario, seed=1000 * seed + number, days=max(base.workdays) + 1, step_s=0.01)
    return weeks_of(review_log(as_log(simulated), simulated.machine))


def summary(told: Sequence[Told]) -> list[str]:
    """The lines of the report."""
    lines = []
    stable = [one for one in told if one[0] == "stable"]
    if stable:
        share = rate(sum(one[3] for one in stable), sum(one[4] for one in stable) / 100)
        lines += [f"stable: {len(stable)} machines"]
        if share:
            lines += [
                f"  weeks beyond the limits of a chart: {share.value:.3f} per hundred (95 % limits {share.low:.3f} to "
                f"{share.high:.3f}), nominal {100 * FALSE_ALARM:.2f}"
            ]
        for kind in ("rate", "time"):
            some = [one for one in stable if any(name.startswith(kind) for name in one[2])]
            lines += [f"  machines with a change of a {kind}: {len(some)} of {len(stable)}"]
            lines += [f"    machine {one[1]}: {', '.join(n for n in one[2] if n.startswith(kind))}" for one in some]
    wear = [one for one in told if one[0] == "wear"]
    if wear:
        before = [one for one in wear if one[5] is not None and (one[6] is None or one[5] < one[6])]
        lines += [f"wear: {len(wear)} machines; called longer before the first late release: {len(before)}"]
        lines += [f"    machine {one[1]}: called longer in week {one[5]}, first late in week {one[6]}" for one in wear]
    return lines


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--machines", type=int, default=20)
    parser.add_argument("--weeks", type=int, default=12)
    parser.add_argument("--story", choices=("stable", "wear", "both"), default="both")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    began = time.perf_counter()
    stories = ("stable", "wear") if given.story == "both" else (given.story,)
    tasks = [(story, seed) for story in stories for seed in range(given.machines)]
    told = list(spread(partial(machine, weeks=given.weeks), tasks, given.workers))
    print("\n".join(summary(told)))
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
