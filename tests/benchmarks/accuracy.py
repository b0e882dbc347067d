"""How well the review finds what the simulation did: recall, precision and error of the ends, for each pattern.

    python -m tests.benchmarks.accuracy --seeds 20 --steps 0.01 0.02

Clean simulated logs (no fault of the log but holes) are reviewed, and what was found is matched one to one with the
truth: as many pairs as possible, a pair being two spans of the same pattern and motion of which both ends agree, or
which overlap by at least half of their union. Two shares are shown beside recall and precision: recall of the truths
that a log of this step can decide (the quantity that decides lies more than a step from its limit), and precision of
the findings that were called certain. `--held-out` takes machines and people from ranges that the patterns
were not written on.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import polars as pl
from scipy.optimize import linear_sum_assignment

from eventlens.simulation import HELD_OUT, ORDINARY, Faults, Scenario, Simulated, as_log, simulate
from eventlens.simulation.truth import PATTERNS

AGREE_S: Final = 0.06
"""Ends agree within this, or within two log steps where these are coarser [s]."""
OVERLAP: Final = 0.5
"""Or the spans' intersection is at least this share of their union."""

STORIES: Final = MappingProxyType(
    {
        "ordinary": Scenario(),
        "electrics": Scenario(
            faults=Faults(
                loose_relay={"hoist.raise": 0.02, "bridge.forward": 0.03},
                loose_relay_per_h=1.0,
                dead_relay={"hoist.raise": 0.015, "trolley.left": 0.03},
                fast_dead=0.03,
                confirm_missing=0.008,
                brake_stuck=0.004,
                confirm_lost=0.02,
            )
        ),
        "timer": Scenario(faults=Faults(timer_missing=0.15, timer_short=0.05), habits={"press_through_s": 0.06}),
        "crew": Scenario(
            habits={"jog": 0.4, "snatch": 0.25, "near_rated": 0.5, "too_heavy": 0.03, "repeat": 0.5, "cycles_per_h": 12}
        ),
        "low trip": Scenario(faults=Faults(trip_level=0.75), habits={"emergency_stop": 0.05, "reversal": 0.4}),
        "busy": Scenario(group="M3", habits={"jog": 0.5, "cycles_per_h": 30}),
        "holes": Scenario(faults=Faults(holes_per_day=4.0, supply_dips_per_h=0.5)),
    }
)
"""What is simulated for every seed: a day of each."""


@dataclass(frozen=True)
class Matches:
    """One-to-one pairs of truth and found spans, as row numbers of the two frames."""

    pairs: tuple[tuple[int, int], ...]
    missed: tuple[int, ...]
    """Rows of the truth without a partner."""
    spurious: tuple[int, ...]
    """Found rows without a partner."""
    start_errors_s: tuple[float, ...]
    """Found start minus true start of each pair [s]."""
    end_errors_s: tuple[float, ...]


def match(truth: pl.DataFrame, found: pl.DataFrame, step_s: float) -> Matches:
    """As many one-to-one pairs as possible, among equally many those with the smallest errors of their ends.

    Both frames have pattern, motion, start and end; their order does not matter and they are not changed.
    """
    pairs: list[tuple[int, int]] = []
    keys = ("pattern", "motion")
    places = [
        frame.with_row_index("place").select("place", pl.col(keys).cast(pl.String)).partition_by(keys, as_dict=True)
        for frame in (truth, found)
    ]
    spans = [_microseconds(frame) for frame in (truth, found)]
    for key in places[0].keys() & places[1].keys():
        rows, columns = (part[key]["place"].to_numpy() for part in places)
        pairs += _pair_up(spans[0][rows], spans[1][columns], step_s, rows, columns)
    pairs.sort()
    here, there = {a for a, _ in pairs}, {b for _, b in pairs}
    return Matches(
        tuple(pairs),
        tuple(row for row in range(truth.height) if row not in here),
        tuple(row for row in range(found.height) if row not in there),
        tuple(float(spans[1][b, 0] - spans[0][a, 0]) / 1e6 for a, b in pairs),
        tuple(float(spans[1][b, 1] - spans[0][a, 1]) / 1e6 for a, b in pairs),
    )


def _microseconds(frame: pl.DataFrame) -> Any:
    return frame.select(pl.col("start", "end").dt.epoch("us")).to_numpy().reshape(-1, 2)


def _pair_up(truth: Any, found: Any, step_s: float, rows: Any, columns: Any) -> list[tuple[int, int]]:
    """Pairs of one pattern and motion: maximum bipartite matching by assignment with bonus for each allowed pair."""
    errors = np.abs(truth[:, None, :] - found[None, :, :])
    ends_agree = (errors <= round(1e6 * max(2 * step_s, AGREE_S))).all(axis=2)
    inner = np.minimum(truth[:, None, 1], found[None, :, 1]) - np.maximum(truth[:, None, 0], found[None, :, 0])
    outer = np.maximum(truth[:, None, 1], found[None, :, 1]) - np.minimum(truth[:, None, 0], found[None, :, 0])
    allowed = ends_agree | ((outer > 0) & (inner >= OVERLAP * outer))
    penalty = errors.sum(axis=2) / 1e6
    # an allowed pair is worth more than all penalties together, so the number of pairs comes first
    worth = np.where(allowed, 1.0 - 0.5 * penalty / (1.0 + penalty) / (1 + min(allowed.shape)), 0.0)
    chosen = linear_sum_assignment(worth, maximize=True)
    return [(int(rows[a]), int(columns[b])) for a, b in zip(*chosen, strict=True) if allowed[a, b]]


@dataclass
class Score:
    """Counts and errors of one pattern at one step, over stories and seeds."""

    truth: int = 0
    found: int = 0
    matched: int = 0
    decided: int = 0
    """Truths that a log of this step can decide: no limit lies within one step of the quantity that decides."""
    decided_matched: int = 0
    certain: int = 0
    """Findings that were called certain."""
    certain_matched: int = 0
    starts: list[float] = field(default_factory=list)
    ends: list[float] = field(default_factory=list)

    @property
    def recall(self) -> float:
        return self.matched / self.truth if self.truth else float("nan")

    @property
    def precision(self) -> float:
        return self.matched / self.found if self.found else float("nan")

    @property
    def decided_recall(self) -> float:
        return self.decided_matched / self.decided if self.decided else float("nan")

    @property
    def certain_precision(self) -> float:
        return self.certain_matched / self.certain if self.certain else float("nan")

    @property
    def worst(self) -> float:
        """The smallest of the four shares that exist; 1 where there was neither truth nor finding."""
        shares = (self.recall, self.precision, self.decided_recall, self.certain_precision)
        return min((value for value in shares if value == value), default=1.0)


Scores = dict[tuple[str, float, str], Score]
"""(pattern, step, story) -> score."""


def add(scores: Scores, story: str, step_s: float, truth: pl.DataFrame, found: pl.DataFrame) -> Matches:
    """Match one log's findings and add them to the scores."""
    matches = match(truth, found, step_s)
    for frame, kind in ((truth, "truth"), (found, "found")):
        for pattern, count in frame["pattern"].value_counts().iter_rows():
            score = scores.setdefault((pattern, step_s, story), Score())
            setattr(score, kind, getattr(score, kind) + count)
    patterns = truth["pattern"].to_list()
    decided = truth.select((pl.col("margin_s").fill_null(float("inf"))) > step_s).to_series().to_list()
    certain = (found["certainty"] == "certain").to_list()
    for pattern, one in zip(patterns, decided, strict=True):
        scores[(pattern, step_s, story)].decided += one
    for pattern, one in zip(found["pattern"].to_list(), certain, strict=True):
        scores[(pattern, step_s, story)].certain += one
    for (row, place), start, end in zip(matches.pairs, matches.start_errors_s, matches.end_errors_s, strict=True):
        score = scores[(patterns[row], step_s, story)]
        score.matched += 1
        score.decided_matched += decided[row]
        score.certain_matched += certain[place]
        score.starts.append(abs(start))
        score.ends.append(abs(end))
    return matches


def simulated(seeds: int, *, first: int = 0, held_out: bool = False) -> Iterator[tuple[str, int, Simulated]]:
    """A day of every story for every seed, logged at 1 ms (other steps are written from it)."""
    ranges = HELD_OUT if held_out else ORDINARY
    for seed in range(first, first + seeds):
        for story, scenario in STORIES.items():
            yield story, seed, simulate(_with(scenario, ranges), seed=seed, step_s=0.001)


def _with(scenario: Scenario, ranges: Any) -> Scenario:
    return replace(scenario, ranges=ranges)


def review(log: Simulated) -> pl.DataFrame:
    """What the review finds in a simulated log, of the patterns whose truth is known."""
    from eventlens.wiring import review_log

    occurrences = review_log(as_log(log), log.machine).occurrences
    return occurrences.filter(pl.col("pattern").is_in(PATTERNS)).select(
        "pattern", "motion", "start", "end", pl.col("certainty").cast(pl.String)
    )


def table(scores: Scores, steps: list[float]) -> list[str]:
    """The scores as lines of text: one for each pattern and step, then the worst cell of all."""
    head = f"{'pattern':22} {'step':>6} {'truth':>6} {'found':>6} {'match':>6} {'recall':>7} {'prec.':>7}"
    lines = [head + f" {'decided':>8} {'certain':>8} {'p95 start':>10} {'p95 end':>10}  worst story"]
    for pattern in PATTERNS:
        for step_s in steps:
            cells = {story: scores[pattern, step_s, story] for story in STORIES if (pattern, step_s, story) in scores}
            whole = total(list(cells.values()))
            story, worst = min(cells.items(), key=lambda cell: cell[1].worst, default=("-", Score()))
            p95 = [f"{1e3 * np.quantile(e, 0.95):7.0f} ms" if e else "         -" for e in (whole.starts, whole.ends)]
            lines.append(
                f"{pattern:22} {step_s:6g} {whole.truth:6} {whole.found:6} {whole.matched:6} {whole.recall:7.4f} "
                f"{whole.precision:7.4f} {whole.decided_recall:8.4f} {whole.certain_precision:8.4f} "
                f"{p95[0]:>10} {p95[1]:>10}  {story} {worst.matched}/{worst.truth}/{worst.found}"
            )
    return lines


def total(cells: list[Score]) -> Score:
    total = Score()
    for cell in cells:
        total.truth += cell.truth
        total.found += cell.found
        total.matched += cell.matched
        total.decided += cell.decided
        total.decided_matched += cell.decided_matched
        total.certain += cell.certain
        total.certain_matched += cell.certain_matched
        total.starts += cell.starts
        total.ends += cell.ends
    return total


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=20, help="how many")
    parser.add_argument("--first", type=int, default=0, help="the first of them")
    parser.add_argument("--steps", type=float, nargs="+", default=[0.01, 0.02], help="log steps [s]")
    parser.add_argument("--held-out", action="store_true", help="other machines and other people")
    parser.add_argument("--show", metavar="PATTERN", help="list what was missed or spurious of a pattern")
    options = parser.parse_args(arguments)
    scores: Scores = {}
    began = time.perf_counter()
    for story, seed, fine in simulated(options.seeds, first=options.first, held_out=options.held_out):
        for step_s in options.steps:
            log = fine.at_step(step_s)
            found = review(log)
            matches = add(scores, story, step_s, log.truth, found)
            if options.show:
                _show(options.show, f"{story}, seed {seed}, step {step_s:g}", log.truth, found, matches)
    print("\n".join(table(scores, options.steps)))
    print(f"{time.perf_counter() - began:.0f} s", file=sys.stderr)
    return 0


def _show(pattern: str, where: str, truth: pl.DataFrame, found: pl.DataFrame, matches: Matches) -> None:
    for word, frame, rows in (("missed", truth, matches.missed), ("spurious", found, matches.spurious)):
        for row in rows:
            if frame["pattern"][row] == pattern:
                print(f"{where}: {word} {frame['motion'][row]} {frame['start'][row]} .. {frame['end'][row]}")


if __name__ == "__main__":
    sys.exit(main())
