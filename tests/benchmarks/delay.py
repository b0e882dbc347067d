"""How long after it is over an occurrence is certain: the log is cut ever later until the review says so.

    python -m tests.benchmarks.delay --each 5
    python -m tests.benchmarks.delay --each 5 --write tests/benchmarks/results/delay.csv

For each pattern some occurrences that a review of the whole log matches for certain are taken. The log is begun as far
before them as the pattern says that it looks back, with the state of every signal at that instant, as a logger that is
switched on there would write it, and ended at a growing time after their end. The delay is the first of `WAITS_S` at
which a review of the log so far finds the same occurrence for certain; "never" means not within the last of them. The
simulated logger writes only changes and a sign of life every ten seconds, so up to that much of a delay may be the
silence of the log itself.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens import schema
from eventlens.patterns import catalogue
from eventlens.simulation import Simulated, simulate
from eventlens.simulation.logger import HEARTBEAT, Recording, as_log
from eventlens.wiring import review_log
from tests.benchmarks.matching import match
from tests.benchmarks.parallel import spread
from tests.benchmarks.stories import STORIES

COLUMNS: Final = {
    "pattern": pl.String,
    "number": pl.Int64,
    "median_s": pl.Float64,
    "longest_s": pl.Float64,
    "never": pl.Int64,
}
WAITS_S: Final = (0.0, 0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0, 300.0, 900.0, 3600.0)
USUAL: Final = ("cyclic_duration_high", "jogging", "limit_as_stop", "reversal_without_pause")
USUAL_IN: Final = ("ordinary", "crew")
"""Every story shows these: they are looked at in two alone."""
LEAST_S: Final = 600.0
"""So much of the log before an occurrence [s] is reviewed with it at least."""


def piece(recording: Recording, begin: datetime, end: datetime) -> Recording:
    """The recording of a logger that was on from one instant to another only: it begins with every signal's state."""
    records = recording.records
    inside = records.filter((pl.col("time") > begin) & (pl.col("time") <= end))
    on = recording.segments.filter((pl.col("start") <= begin) & (pl.col("end") >= begin))["segment"]
    known = (
        records.filter(
            (pl.col("time") <= begin) & pl.col("segment").is_in(on.implode()) & (pl.col("name") != HEARTBEAT)
        )
        .group_by("name", maintain_order=True)
        .last()
        .with_columns(pl.lit(begin).cast(schema.TIME).alias("time"))
        .select(records.columns)
    )
    return replace(recording, records=pl.concat([known, inside]))


def delay_s(simulated: Simulated, one: Mapping[str, Any]) -> float | None:
    """Seconds from the end of an occurrence (pattern, motion, start, end) until it is certain; None: not in an hour."""
    truth = pl.DataFrame([one], schema_overrides={"motion": pl.String})
    back = timedelta(seconds=max(catalogue()[one["pattern"]].look_back_s, LEAST_S))
    begin = max(one["start"] - back, simulated.recording.segments["start"][0])

    def certain(wait: float) -> bool:
        so_far = piece(simulated.recording, begin, one["end"] + timedelta(seconds=wait))
        if so_far.records.height < 2:
            return False
        found = review_log(as_log(so_far), simulated.machine).occurrences.filter(pl.col("certainty") == "certain")
        return bool(match(truth, found.select("pattern", "motion", "start", "end"), simulated.recording.step_s).pairs)

    return next((wait for wait in WAITS_S if certain(wait)), None)


def of_story(story: str, *, seed: int, each: int) -> list[tuple[str, float | None]]:
    """(pattern, delay) of some occurrences of one simulated day of a story at a step of 10 ms."""
    simulated = simulate(STORIES[story], seed=seed, step_s=0.01)
    found = review_log(as_log(simulated.recording), simulated.machine).occurrences
    sure = found.filter(pl.col("certainty") == "certain").select("pattern", "motion", "start", "end")
    pairs = match(simulated.truth, sure, 0.01).pairs
    matched = sure.with_columns(pl.col("motion").cast(pl.String))[[place for _, place in pairs]]
    if story not in USUAL_IN:
        matched = matched.filter(~pl.col("pattern").is_in(USUAL))
    rng = random.Random(f"{story} {seed}")
    return [
        (one["pattern"], delay_s(simulated, one))
        for part in matched.partition_by("pattern", maintain_order=True)
        for one in _some(part, each, rng)
    ]


def _some(part: pl.DataFrame, each: int, rng: random.Random) -> Iterator[dict[str, Any]]:
    for row in sorted(rng.sample(range(part.height), min(each, part.height))):
        yield part.row(row, named=True)


def table(delays: Sequence[tuple[str, float | None]]) -> pl.DataFrame:
    """(pattern, number, median_s, longest_s, never): the delays of those that became certain, and how many did not."""
    by_pattern: dict[str, list[float | None]] = defaultdict(list)
    for pattern, wait in delays:
        by_pattern[pattern].append(wait)
    rows = []
    for pattern, waits in sorted(by_pattern.items()):
        known = sorted(w for w in waits if w is not None)
        middle, longest = (known[len(known) // 2], known[-1]) if known else (None, None)
        rows.append((pattern, len(waits), middle, longest, waits.count(None)))
    return pl.DataFrame(rows, schema=COLUMNS, orient="row")


def lines_of(delays: pl.DataFrame) -> list[str]:
    """The table as text."""
    lines = [f"{'pattern':24} {'number':>6} {'median':>8} {'longest':>8} {'never':>6}"]
    for pattern, number, middle, longest, never in delays.rows():
        shown = [f"{wait:g} s" if wait is not None else "-" for wait in (middle, longest)]
        lines.append(f"{pattern:24} {number:6} {shown[0]:>8} {shown[1]:>8} {never:6}")
    return lines


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--each", type=int, default=5, help="occurrences of each pattern and story")
    parser.add_argument("--seed", type=int, default=500)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--stories", nargs="*", choices=list(STORIES), default=list(STORIES))
    parser.add_argument("--write", type=Path, help="also write the table as CSV")
    given = parser.parse_args(arguments)
    parts = spread(partial(of_story, seed=given.seed, each=given.each), given.stories, given.workers)
    delays = table([one for part in parts for one in part])
    print("\n".join(lines_of(delays)))
    if given.write:
        delays.write_csv(given.write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
