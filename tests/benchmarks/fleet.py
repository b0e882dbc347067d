"""What a fleet costs: simulated machines, a week each, reviewed by one process and by two; and what a thousand would.

    python -m tests.benchmarks.fleet --machines 200 --write tests/benchmarks/results/fleet.csv

The machines are those of the demonstration again and again, each with people and chance of its own (seed) and one of
twelve weeks of its story. First they are simulated and added to an archive, by processes side by side. Then
`eventlens.fleet` reviews a part of them with one process and, begun anew, all of them with two. Measured is processor
time, that of the workers (their start included) and that of the program that plans, writes and sums up; it depends
little on what else the computer has to do. Time by the clock does: the load of the computer is printed beside it.

The extrapolation multiplies, and prints what with what. It leaves out what the benchmark does not have: an object store
that is slow to answer, and the opening of tables with many files.
"""

from __future__ import annotations

import argparse
import csv
import json
import math
import os
import resource
import shutil
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import closing
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from eventlens import Archive
from eventlens.fleet.pool import Pool
from eventlens.fleet.run import review_all
from eventlens.simulation import demonstration
from eventlens.simulation.yard import STORIES
from tests.benchmarks.parallel import spread

WEEKS: Final = 12
PART: Final = 0.3
"""Of the machines so many are reviewed by one process alone."""
THOUSAND: Final = 1000
YEAR: Final = 52
HOURS: Final = 8
"""A night."""


def add(number: int, folder: Path) -> None:
    """Simulates a week of a machine and adds it to the archive."""
    story, week = number % len(STORIES), number // len(STORIES) % WEEKS + 1
    demonstration.write_machine(folder / str(number), story, range(week, week + 1), seed=number)
    home = folder / str(number) / STORIES[story].machine.id
    plate = home / "machine.toml"
    plate.write_text(plate.read_text("utf-8").replace(STORIES[story].machine.id, name(number)), "utf-8")
    Archive(folder / "archive").add(sorted(home.glob("*.csv")), plate, home / "profile.toml", who="benchmark")


def name(number: int) -> str:
    return f"{STORIES[number % len(STORIES)].machine.id}-{number:04}"


def measure(place: Path, workers: int, machines: Sequence[str]) -> dict[str, Any]:
    """Reviews these machines; what it took of this process and of its workers."""
    began = time.perf_counter()
    with closing(Pool(workers)) as pool:
        found = review_all(place, pool, machines=machines)
    wall_s = time.perf_counter() - began
    mine, theirs = (resource.getrusage(whose) for whose in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return {
        "workers": workers,
        "machines": found.machines.height,
        "reviews": int(found.machines["made"].sum()),
        "errors": found.errors.height,
        "wall_s": round(wall_s, 1),
        "worker_cpu_s": round(theirs.ru_utime + theirs.ru_stime, 1),
        "program_cpu_s": round(mine.ru_utime + mine.ru_stime, 1),
        "worker_peak_mb": round(theirs.ru_maxrss / 1024),
        "program_peak_mb": round(mine.ru_maxrss / 1024),
    }


def run(place: Path, workers: int, machines: Sequence[str]) -> dict[str, Any]:
    """The same in a process of its own, so that nothing else is counted; with the events of these machines."""
    command = [sys.executable, "-m", "tests.benchmarks.fleet", "--measure", str(place), "--workers", str(workers)]
    done = subprocess.run([*command, "--names", *machines], stdout=subprocess.PIPE, text=True, check=True)
    found: dict[str, Any] = json.loads(done.stdout)
    contents = Archive(place).contents()
    found["events"] = int(contents.filter(contents["machine"].is_in(list(machines)))["events"].sum())
    found["load"] = round(os.getloadavg()[0], 1)
    print(
        f"{workers} worker{'s' if workers > 1 else ''}: {found['reviews']} reviews, {found['events']} events, "
        f"{found['errors']} errors; {found['worker_cpu_s']} s of processor in workers, {found['program_cpu_s']} s in "
        f"the program; {found['worker_peak_mb']} MB at most in a worker, {found['program_peak_mb']} MB in the program; "
        f"{found['wall_s']} s by the clock ({os.cpu_count()} cores, load {found['load']})",
        flush=True,
    )
    return found


def extrapolate(found: dict[str, Any], sizes: dict[str, int]) -> list[str]:
    """The lines about a thousand machines and a year, each with its own arithmetic."""
    reviews, events, peak = found["reviews"], found["events"], found["worker_peak_mb"]
    each, own, mean = found["worker_cpu_s"] / reviews, found["program_cpu_s"] / reviews, events / reviews
    whole = THOUSAND * YEAR
    hours = whole * each / 3600
    workers = math.ceil(hours / HOURS)
    lines = [
        f"processor time per million events: {found['worker_cpu_s']} s / {events / 1e6:.2f} = "
        f"{found['worker_cpu_s'] / events * 1e6:.0f} s, at {mean:.0f} events a review",
        f"a thousand machines for a year: {THOUSAND} x {YEAR} = {whole} reviews of {mean:.0f} events",
        f"  workers: {whole} x {each:.2f} s = {hours:.0f} h of processor; {workers} of one thread for "
        f"{hours / workers:.1f} h, {workers} x {peak} MB = {workers * peak / 1024:.0f} GB of memory",
        f"  the program: {whole} x {own:.3f} s = {whole * own / 3600:.1f} h of processor, in one thread: "
        f"it keeps up with {each:.2f} / {own:.3f} = {each / own:.0f} workers",
    ]
    for table, size in sizes.items():
        lines.append(f"  {table}: {whole} x {size / reviews / 1e3:.0f} kB = {whole * size / reviews / 1e9:.1f} GB")
    return lines


def held(place: Path) -> dict[str, int]:
    """Bytes of each table of an archive."""
    return {
        table.name: sum(file.stat().st_size for file in table.rglob("*") if file.is_file())
        for table in sorted(place.iterdir())
    }


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--machines", type=int, default=200)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--write", type=Path)
    parser.add_argument("--keep", type=Path, help="a folder for the archive, or with the one of an earlier call")
    parser.add_argument("--measure", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--names", nargs="*", help=argparse.SUPPRESS)
    given = parser.parse_args(arguments)
    if given.measure:
        print(json.dumps(measure(given.measure, given.workers, given.names)))
        return 0
    names = [name(number) for number in range(given.machines)]
    with TemporaryDirectory() as there:
        place = (given.keep or Path(there)) / "archive"
        if not place.exists():
            began = time.perf_counter()
            list(spread(partial(add, folder=place.parent), range(given.machines), given.workers))
            print(f"simulated and added in {time.perf_counter() - began:.0f} s", file=sys.stderr, flush=True)
        runs = []
        for workers, part in ((1, names[: max(1, round(PART * given.machines))]), (given.workers, names)):
            shutil.rmtree(place / "reviews", ignore_errors=True)
            runs.append(run(place, workers, part))
        print("\n".join(extrapolate(runs[-1], held(place))))
    one, more = (found["reviews"] / found["wall_s"] for found in runs)
    print(
        f"reviews a second by the clock: {one:.2f} with 1 worker, {more:.2f} with {given.workers}: {more / one:.2f} x"
    )
    if given.write:
        with given.write.open("w", newline="") as file:
            writer = csv.DictWriter(file, list(runs[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(runs)
    return 0


if __name__ == "__main__":
    sys.exit(main())
