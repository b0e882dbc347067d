"""How often the review is right: every pattern, at every log step, on clean and on damaged logs of simulated machines.

    python -m tests.benchmarks.accuracy --seeds 20
    python -m tests.benchmarks.accuracy --seeds 5 --steps 0.02 --damages clean jitter --show drop_out

A day of every story is simulated, logged at each step, damaged in each way, reviewed, and matched one to one with what
happened: a pair is two spans of one pattern and motion of which both ends agree (60 ms or two log steps), or which
overlap by half of their union. `--held-out` takes machines and people from ranges on which no limit was chosen.
`--write FILE` keeps the whole table as CSV; printed are its summary over all stories and its worst cells.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.reading.log import Log
from eventlens.simulation import HELD_OUT, ORDINARY, Simulated, as_log, simulate
from eventlens.simulation.truth import PATTERNS
from tests.benchmarks.damage import BLURRED, DAMAGES, damaged
from tests.benchmarks.matching import Matches
from tests.benchmarks.parallel import spread
from tests.benchmarks.scores import CELL, Judged, judge, table, worst
from tests.benchmarks.stories import STORIES

STEPS: Final = (0.001, 0.01, 0.02, 0.05, 0.1, 0.2, 1.0)
DAMAGED_STEPS: Final = (0.01, 0.05)
"""Steps [s] at which damaged logs are looked at."""
CLEAN: Final = "clean"
AT_EVERY_STEP: Final = (CLEAN, "jitter")
"""What is looked at at every step: jitter is as coarse as the step."""


@dataclass(frozen=True)
class Plan:
    """What is looked at in every simulated day."""

    steps: tuple[float, ...] = STEPS
    damages: tuple[str, ...] = (CLEAN, *DAMAGES)
    held_out: bool = False
    show: str = ""
    """Pattern of which misses and false findings are printed."""

    @property
    def cells(self) -> list[tuple[float, str]]:
        """(step, damage) of each log; a plan of one step damages at that step."""
        damaged_at = [step for step in self.steps if step in DAMAGED_STEPS] or list(self.steps[:1])
        return [(step, d) for d in self.damages for step in (self.steps if d in AT_EVERY_STEP else damaged_at)]


def day(task: tuple[str, int], plan: Plan) -> Judged:
    """One simulated day of a story under every step and damage."""
    story, seed = task
    scenario = replace(STORIES[story], ranges=HELD_OUT if plan.held_out else ORDINARY)
    fine = simulate(scenario, seed=seed, step_s=0.001)
    parts = []
    for step_s, damage in plan.cells:
        simulated = fine.at_step(step_s)
        log, truth = as_log(simulated), simulated.truth
        if damage != CLEAN:
            log, truth = damaged(simulated, damage, random.Random(f"{damage} {story} {seed}"))
        judged, matches, found = review(log, simulated, truth, story=story, damage=damage)
        parts.append(judged)
        if plan.show:
            _show(plan.show, f"{story}, seed {seed}, step {step_s:g}, {damage}", truth, found, matches)
    return Judged.together(parts)


def review(
    log: Log, simulated: Simulated, truth: pl.DataFrame, *, story: str = "", damage: str = CLEAN
) -> tuple[Judged, Matches, pl.DataFrame]:
    """The fate of what happened and of what was found, of the patterns whose truth is known; and the findings."""
    from eventlens.wiring import review_log

    done = review_log(log, simulated.machine)
    scored = [name for name in PATTERNS if name not in BLURRED.get(damage, ())]
    truth = truth.filter(pl.col("pattern").is_in(scored))
    found = done.occurrences.filter(pl.col("pattern").is_in(scored)).select(
        "pattern", "motion", "start", "end", pl.col("certainty").cast(pl.String)
    )
    days = log.observed_s / 86400
    lacking = done.not_assessed.select("pattern", "motion")
    return *judge(truth, found, lacking, log.step_s, story=story, damage=damage, days=days), found


def lines_of(cells: pl.DataFrame) -> list[str]:
    """The table as text, a line for each cell."""
    lines = [
        f"{'pattern':24} {'step':>6} {'damage':12} {'truths':>6} {'found':>6} {'recall':>7} {'prec.':>7} {'F1':>7} "
        f"{'decided':>8} {'certain':>8} {'p95 start':>10} {'p95 end':>9} {'false/day':>9}"
    ]
    for row in cells.iter_rows(named=True):
        shares = [_share(row[n]) for n in ("recall", "precision", "f1", "decided_recall", "certain_precision")]
        ends = [f"{row[n]:.3f} s" if row[n] is not None else "-" for n in ("p95_start_s", "p95_end_s")]
        lines.append(
            f"{row['pattern']:24} {row['step_s']:6g} {row['damage']:12} {row['truths']:6} {row['found']:6} "
            f"{shares[0]:>7} {shares[1]:>7} {shares[2]:>7} {shares[3]:>8} {shares[4]:>8} "
            f"{ends[0]:>10} {ends[1]:>9} {row['false_per_day']:9.3f}"
        )
    return lines


def _share(value: float | None) -> str:
    return "-" if value is None else f"{value:.4f}"


def worst_of(cells: pl.DataFrame) -> list[str]:
    """The worst cell of each measure that has an aim, clean and damaged."""
    lines = []
    for name, part in (
        ("clean", cells.filter(pl.col("damage") == CLEAN)),
        ("damaged", cells.filter(pl.col("damage") != CLEAN)),
    ):
        for measure in ("certain_precision", "decided_recall"):
            if row := worst(part, measure):
                where = ", ".join(f"{row[key]}" for key in CELL)
                lines.append(f"worst {measure} of {name} logs: {row[measure]:.4f} ({where})")
    return lines


def _show(pattern: str, where: str, truth: pl.DataFrame, found: pl.DataFrame, matches: Matches) -> None:
    for word, frame, rows in (("missed", truth, matches.missed), ("spurious", found, matches.spurious)):
        for row in rows:
            if frame["pattern"][row] == pattern:
                sure = frame["certainty"][row] if "certainty" in frame.columns else ""
                print(f"{where}: {word} {frame['motion'][row]} {frame['start'][row]} .. {frame['end'][row]} {sure}")


def run(seeds: Sequence[int], plan: Plan, *, workers: int = 1, stories: Sequence[str] = tuple(STORIES)) -> Judged:
    """Every story for every seed."""
    tasks = [(story, seed) for seed in seeds for story in stories]
    return Judged.together(list(spread(partial(day, plan=plan), tasks, workers)))


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=20, help="how many")
    parser.add_argument("--first", type=int, default=0, help="the first of them")
    parser.add_argument("--steps", type=float, nargs="+", default=list(STEPS), help="log steps [s]")
    parser.add_argument("--damages", nargs="+", default=[CLEAN, *DAMAGES], choices=[CLEAN, *DAMAGES])
    parser.add_argument("--stories", nargs="+", default=list(STORIES), choices=list(STORIES))
    parser.add_argument("--held-out", action="store_true", help="other machines and other people")
    parser.add_argument("--show", metavar="PATTERN", default="", help="list what was missed or spurious of a pattern")
    parser.add_argument("--write", type=Path, metavar="FILE", help="the whole table as CSV")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args(arguments)
    began = time.perf_counter()
    plan = Plan(tuple(given.steps), tuple(given.damages), given.held_out, given.show)
    seeds = range(given.first, given.first + given.seeds)
    judged = run(seeds, plan, workers=1 if given.show else given.workers, stories=given.stories)
    cells = table(judged)
    print("\n".join([*lines_of(cells), *worst_of(cells)]))
    if given.write:
        cells.write_csv(given.write, float_precision=5)
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
