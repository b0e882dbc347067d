"""How long trends of an archive take whose weeks are stored: six invented machines over a year.

    python -m tests.benchmarks.trends_speed --machines 6 --weeks 52

Each machine gets a small dump of its own every week; their stored reviews are put there as a weekly habit leaves them,
one commit a week, with weekly results that are drawn and a text as long as a real review. Aim: well under a second.
What is timed begins with the path of the archive and ends with the trends; loading the libraries is not in it.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import numpy as np
import polars as pl

from eventlens import patterns, schema, signals
from eventlens.archive import Archive
from eventlens.archive import weeks as kept
from eventlens.archive.tables import REVIEWS
from eventlens.comparison.times import TIMES
from eventlens.trends import Weeks

FIRST: Final = datetime(2025, 4, 7, 6, 0, tzinfo=UTC)
"""A Monday."""
REVIEW_CHARACTERS: Final = 300_000
"""Length of a stored review: that of the sample week is 280 thousand."""
ACTIVE: Final = {"hoist": 8, "trolley": 3, "bridge": 3}
"""So many patterns of each motion show, a few times a week."""


def build(folder: Path, machines: int, weeks: int) -> Archive:
    """An archive of machines with a stored review for each week."""
    archive, rng = Archive(folder / "history"), np.random.default_rng(1)
    for machine in (f"M{number + 1}" for number in range(machines)):
        archive.add([_dump(folder, machine, week) for week in range(weeks)], machine)
        state = kept.State.of(archive.lake, machine)
        for wanted in kept.wanted(state, folder):
            row = kept.row(machine, wanted, _text(rng), None, _drawn(machine, wanted.period, rng))
            kept.put(archive.lake, archive.lake.made(REVIEWS.name), row, {})
            archive.lake.gather(REVIEWS.name, machine)
    return archive


def _dump(folder: Path, machine: str, week: int) -> Path:
    begin = FIRST + timedelta(weeks=week)
    rows = ["time,signal,value"]
    for second, name, value in ((0, "raise.contactor", 0), (9, "raise.contactor", 1), (20, "raise.contactor", 0)):
        rows.append(f"{(begin + timedelta(seconds=second)).isoformat()},hoist.{name},{value}")
    path = folder / f"{machine}-{week:02d}.csv"
    path.write_text("\n".join(rows) + "\n", "utf-8")
    return path


def _text(rng: np.random.Generator) -> str:
    """A text that packs about as badly as a review."""
    return "".join(f"{number:.4f}, " for number in rng.random(REVIEW_CHARACTERS // 8))


def _drawn(machine: str, week: str, rng: np.random.Generator) -> Weeks:
    counts = pl.DataFrame(list(_counts(machine, week, rng)), schema=schema.WEEKS.schema)
    times = [
        {
            "machine": machine,
            "week": week,
            "motion": motion,
            "time": name,
            "n": 500,
            "median_s": 0.2 + float(rng.normal(0, 0.004)),
            "step_s": 0.01,
        }
        for motion in signals.MOTIONS
        for name in TIMES
    ]
    return Weeks(counts, pl.DataFrame(times, schema=schema.WEEK_TIMES.schema))


def _counts(machine: str, week: str, rng: np.random.Generator) -> Iterator[dict[str, Any]]:
    """A row for each pattern and motion, most of them silent."""
    shown = dict.fromkeys(ACTIVE, 0)
    for pattern in patterns.catalogue().values():
        for motion in pattern.motions or (None,):
            active = motion is not None and shown[motion] < ACTIVE[motion]
            if motion is not None:
                shown[motion] += 1
            count = int(rng.poisson(3.0)) if active else 0
            yield {
                "machine": machine,
                "week": week,
                "pattern": pattern.name,
                "motion": motion,
                "exposure": "start",
                "amount": float(rng.integers(700, 1300)),
                "count": count,
                "certain": count,
                "most": min(count, 2),
                "variance": count * 1.2,
                "observed_h": 168.0,
                "running_h": 12.0,
                "starts": 1000,
                "lifts": 400.0,
                "lack": None,
            }


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--machines", type=int, default=6)
    parser.add_argument("--weeks", type=int, default=52)
    parser.add_argument("--rounds", type=int, default=5)
    given = parser.parse_args(arguments)
    with TemporaryDirectory() as name:
        began = time.perf_counter()
        archive = build(Path(name), given.machines, given.weeks)
        print(f"built in {time.perf_counter() - began:.0f} s", file=sys.stderr)
        taken = []
        for _ in range(given.rounds + 1):
            wall, busy = time.perf_counter(), time.process_time()
            found = archive.trends()
            taken.append((time.perf_counter() - wall, time.process_time() - busy))
        rows = archive.stored_weeks().height
    first, later = taken[0], sorted(taken[1:])
    compared = f"{found.comparisons} patterns and {found.times_compared} measured times compared"
    print(f"{len(found.machines)} machines, {rows} stored weeks, {compared}")
    print(
        f"first {first[0]:.2f} s, then {later[len(later) // 2][0]:.2f} s (median of {given.rounds}, "
        f"{later[0][0]:.2f} to {later[-1][0]:.2f} s); {min(busy for _, busy in later):.2f} s of processor at least"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
