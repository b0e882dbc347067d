"""How long after its end an occurrence still depends on the log: what `Pattern.settles_s` says, held against cut logs.

    python -m tests.benchmarks.settling --cuts 100
    python -m tests.benchmarks.settling --cuts 100 --write tests/benchmarks/results/settling.csv

The log of each simulated story is ended at random, most often shortly after an occurrence. Whatever is certain in the
log so far, or in the whole one by then, is held against the other: in all that is told of an occurrence, but not in the
lines that prove it. For each pattern: how many were held, for how long after the end [s] one was still seen otherwise
(`latest_s`), and how many were otherwise although they had settled. Of patterns that weigh the whole log (settles_s
infinite) nothing is expected, and what rests on a signal that is found frozen later is open to the end.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.machine import Machine
from eventlens.motion import RecordAxis
from eventlens.patterns import catalogue
from eventlens.reading import Log
from eventlens.simulation import simulate
from eventlens.simulation.logger import as_log
from eventlens.wiring import context_of, occurrences_in
from tests.benchmarks.parallel import spread
from tests.benchmarks.stories import STORIES

AFTER_S: Final = (0.0, 0.02, 0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 120.0, 600.0, 1800.0, 3600.0)
"""So long after the end of an occurrence the log is ended, and up to half as long again."""
KEY: Final = ["pattern", "motion", "signal", "direction", "start"]
COLUMNS: Final = {"pattern": pl.String, "age_s": pl.Float64, "same": pl.Boolean}


def found_in(log: Log, machine: Machine) -> pl.DataFrame:
    """The occurrences of a log, figures without their last digits."""
    found = occurrences_in(context_of(log, machine, RecordAxis.of(log), lambda stage: None))
    return found.with_columns(pl.col("measured", "limit").round(4)).drop("rows")


def of_story(story: str, *, seed: int, cuts: int) -> pl.DataFrame:
    """pattern, age_s, same: of what a cut log and the whole one have found by the cut."""
    simulated = simulate(STORIES[story], seed=seed, step_s=0.01)
    recording, rng = simulated.recording, random.Random(f"{story} {seed}")
    whole = found_in(as_log(recording), simulated.machine)
    groups = whole.filter(pl.col("certainty") == "certain").partition_by("pattern", maintain_order=True)
    parts = [pl.DataFrame(schema=COLUMNS)]
    for _ in range(cuts if groups else 0):
        group = rng.choice(groups)
        end = group["end"][rng.randrange(group.height)]
        at = end + timedelta(seconds=rng.choice(AFTER_S) * rng.uniform(1.0, 1.5))
        records = recording.records.filter(pl.col("time") <= at)
        if records.height > 10:
            so_far = found_in(as_log(replace(recording, records=records)), simulated.machine)
            parts.append(held(whole, so_far, records))
    return pl.concat(parts)


def held(whole: pl.DataFrame, so_far: pl.DataFrame, records: pl.DataFrame) -> pl.DataFrame:
    """pattern, age_s, same: what is certain in one of them, and whether the other says so too."""
    now = records["time"][-1]
    # of the whole log only what a log that ends here could know of
    both = whole.filter(pl.col("start") <= now).join(
        so_far, on=KEY, how="full", coalesce=True, suffix="_so_far", nulls_equal=True
    )
    ended = pl.coalesce("end_so_far", "end")
    names = ("end", "certainty", "measured", "limit")
    same = pl.all_horizontal(pl.col(name).eq_missing(pl.col(f"{name}_so_far")) for name in names)
    sure = (pl.col("certainty") == "certain") | (pl.col("certainty_so_far") == "certain")
    aged = both.filter(sure.fill_null(value=False)).select(
        "pattern", age_s=(pl.lit(now) - ended).dt.total_microseconds() / 1e6, same=same
    )
    return aged.filter(pl.col("age_s") >= 0)


def table(ages: pl.DataFrame) -> pl.DataFrame:
    """pattern, settles_s, held, latest_s, otherwise, settled: see the docstring of the module."""
    settles = {name: pattern.settles_s for name, pattern in catalogue().items()}
    known = ages.with_columns(settles_s=pl.col("pattern").replace_strict(settles, return_dtype=pl.Float64))
    after = pl.col("age_s") >= pl.col("settles_s")
    return (
        known.group_by("pattern", "settles_s")
        .agg(
            held=pl.len(),
            latest_s=pl.col("age_s").filter(~pl.col("same")).max(),
            settled=after.sum(),
            otherwise=(after & ~pl.col("same")).sum(),
        )
        .sort("pattern")
    )


def lines_of(found: pl.DataFrame) -> Sequence[str]:
    """The table as text."""
    lines = [f"{'pattern':24} {'settles':>8} {'held':>6} {'latest':>9} {'settled':>8} {'otherwise':>9}"]
    for name, settles, number, latest, settled, otherwise in found.rows():
        shown = "-" if latest is None else f"{latest:.2f} s"
        lines.append(f"{name:24} {settles:8g} {number:6} {shown:>9} {settled:8} {otherwise:9}")
    return lines


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cuts", type=int, default=100, help="of each story")
    parser.add_argument("--seed", type=int, default=900)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--stories", nargs="*", choices=list(STORIES), default=list(STORIES))
    parser.add_argument("--write", type=Path, help="also write the table as CSV")
    given = parser.parse_args(arguments)
    parts = spread(partial(of_story, seed=given.seed, cuts=given.cuts), given.stories, given.workers)
    found = table(pl.concat(parts))
    print("\n".join(lines_of(found)))
    if given.write:
        found.write_csv(given.write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
