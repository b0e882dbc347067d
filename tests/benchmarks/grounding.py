"""Whether named causes rest on what they cite: the cited runs are taken out of the log, then as many others.

    python -m tests.benchmarks.grounding --seeds 2
    python -m tests.benchmarks.grounding --seeds 1 --signals few --causes lining_gap --write FILE

For each simulated machine with one known cause (as in tests.benchmarks.causes) the cause that stands first is looked
at, whether it is right or not. Out of the log go the stretches around every line that speaks for it: the run that holds
the line, or a second on either side where none runs. Its probability must then fall by `FALLS` or more, or it must no
longer stand first. Instead of these as many runs are taken out that hold none of the lines, drawn with a seed; no more
than half of all such runs, since a log without its ordinary work shows no share and no course any more. The probability
must then stay within `STAYS`.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from functools import partial
from pathlib import Path
from statistics import fmean
from typing import Final

import polars as pl

from eventlens.causes.diagnosis import Answer
from eventlens.causes.ranking import OTHER
from eventlens.causes.subject import Subject
from eventlens.machine import Machine
from eventlens.motion.spells import during
from eventlens.reading.log import Log
from eventlens.result import Review
from eventlens.simulation.causes import CAUSES, simulate_cause
from eventlens.wiring import review_log
from tests.benchmarks.causes import answer_of, log_of, machine_of
from tests.benchmarks.parallel import spread

FALLS: Final = 0.05
"""By so much at least the probability falls without the cited runs (judgement)."""
STAYS: Final = 0.15
"""By no more than this it changes without as many others (judgement)."""
AROUND: Final = timedelta(seconds=1)


@dataclass(frozen=True)
class Grounds:
    """What became of one named cause."""

    cause: str
    seed: int
    named: str
    whole: float
    """Its probability in the whole log."""
    cited_runs: int
    without_cited: float
    """... without the cited runs; 0: it is not named any more."""
    first_without: bool
    """It stands first all the same."""
    other_runs: int
    without_others: float

    @property
    def grounded(self) -> bool:
        """Taking the cited runs away changes the ranking."""
        return not self.first_without or self.without_cited <= self.whole - FALLS

    @property
    def steady(self) -> bool:
        """Taking as many others away does not."""
        return abs(self.without_others - self.whole) <= STAYS


def cited(answer: Answer) -> list[int]:
    """The lines of everything that speaks for the cause that stands first."""
    return sorted({row for argument in answer.first.for_ for row in argument.sign.rows})


def stretches(subject: Subject, rows: Sequence[int]) -> tuple[pl.DataFrame, pl.DataFrame]:
    """(start, end) of the runs that hold some lines, or of the moments around these; and of the runs that do not."""
    runs = subject.runs.select("start", "end").sort("start")
    at = subject.log.events.filter(pl.col("row").is_in(list(rows))).select("time").unique().sort("time")
    hit = runs.filter(pl.Series([bool(x) for x in _holds(runs, at)], dtype=pl.Boolean))
    alone = at.filter(~during(at, "time", hit, 0.5, 0.5)).select(start="time", end="time")
    around = pl.concat([hit, alone]).sort("start")
    free = runs.filter(~during(runs, "start", around, 2.0, 2.0) & ~during(runs, "end", around, 2.0, 2.0))
    return around, free


def _holds(runs: pl.DataFrame, at: pl.DataFrame) -> Iterator[bool]:
    """For each run: a moment lies in it, or within half a second of it."""
    near = timedelta(seconds=0.5)
    times = at["time"]
    first = times.search_sorted(runs["start"] - near, side="left")
    last = times.search_sorted(runs["end"] + near, side="right")
    yield from (first < last).to_list()


def without(log: Log, spans: pl.DataFrame) -> Log:
    """The log less the events in some stretches, and a second around them."""
    gone = during(log.events, "time", spans, AROUND.total_seconds(), AROUND.total_seconds())
    return replace(log, events=log.events.filter(~gone))


def grounds(log: Log, machine: Machine, cause: str, seed: int) -> Grounds | None:
    """How the cause that stands first rests on its lines; None: the cause brought about no complaint, or is OTHER."""
    review = review_log(log, machine)
    answer = answer_of(review.causes, cause, seed)
    if answer is None or answer.first.cause == OTHER:
        return None
    named, rng = answer.first.cause, random.Random(f"grounds {cause} {seed}")
    around, free = stretches(review.subject, cited(answer))
    drawn = free[sorted(rng.sample(range(free.height), min(around.height, free.height // 2)))]
    fewer = _stated(review_log(without(log, around), machine), answer.complaint, named)
    others = _stated(review_log(without(log, drawn), machine), answer.complaint, named)
    whole = answer.first.probability
    return Grounds(cause, seed, named, whole, around.height, *fewer, drawn.height, others[0])


def _stated(review: Review, complaint: str, cause: str) -> tuple[float, bool]:
    """The probability of a cause of a complaint, and whether it stands first; 0 where it is not named."""
    for answer in review.causes.answers:
        if answer.complaint == complaint:
            chances = {item.cause: item.probability for item in answer.ranked}
            return chances.get(cause, 0.0), answer.first.cause == cause
    return 0.0, False


def one(task: tuple[str, int], signals: str) -> Grounds | None:
    """One machine, simulated and looked at."""
    cause, seed = task
    simulated = simulate_cause(cause, seed, signals="few" if signals == "few" else "full")
    return grounds(log_of(simulated, cause), machine_of(simulated), cause, seed)


def report(found: Sequence[Grounds]) -> Iterator[str]:
    """Shares, and every cause that does not rest on what it cites."""
    if not found:
        yield "no cause is named"
        return
    yield f"named causes: {len(found)} logs, {len({g.named for g in found})} causes"
    yield f"without the cited runs the ranking changes: {fmean(g.grounded for g in found):.1%}"
    yield f"without as many others it stays within {STAYS:g}: {fmean(g.steady for g in found):.1%}"
    fell = fmean(g.whole - g.without_cited for g in found)
    moved = fmean(abs(g.whole - g.without_others) for g in found)
    yield f"mean change of the probability: {fell:.2f} down without the cited, {moved:.2f} without others"
    for g in found:
        if not (g.grounded and g.steady):
            fewer = f"without {g.cited_runs} cited {g.without_cited:.2f}"
            others = f"without {g.other_runs} others {g.without_others:.2f}"
            yield f"{g.cause}, seed {g.seed}: {g.named} {g.whole:.2f}; {fewer}, {others}"


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=2, help="how many")
    parser.add_argument("--first", type=int, default=300, help="the first of them")
    parser.add_argument("--signals", choices=("full", "few"), default="full")
    parser.add_argument("--causes", nargs="+", default=list(CAUSES), choices=CAUSES, metavar="CAUSE")
    parser.add_argument("--write", type=Path, metavar="FILE", help="every case as CSV")
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args(arguments)
    tasks = [(cause, seed) for seed in range(given.first, given.first + given.seeds) for cause in given.causes]
    found = [g for g in spread(partial(one, signals=given.signals), tasks, given.workers) if g is not None]
    print("\n".join(report(found)))
    if given.write:
        pl.DataFrame([asdict(g) for g in found]).write_csv(given.write, float_precision=4)
    return 0


if __name__ == "__main__":
    sys.exit(main())
