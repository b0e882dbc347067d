"""What an archive stands: writers killed at any moment, and how quickly it takes and gives.

python -m tests.benchmarks.archive --kills 50
python -m tests.benchmarks.archive --events 5e6

Kills: rounds of a new archive, two writers that add overlapping dumps of two machines in different orders, each killed
with SIGKILL at a random moment and begun again, five times in a round. At the end of each round: the events of each
machine are exactly those that reading its dumps together gives, and verify finds no fault.

Events: ten simulated machines, added in one run; then two hours of one machine, read from the archive and from one
plain Parquet file of that machine with the same columns.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

import polars as pl

from eventlens import Archive
from tests.archive.stories import lines, parts, told, wanted

MACHINES = ("DOCK-5", "KILN-2")
WRITERS = 2
KILLS_A_ROUND = 5
"""More would fall into the time after all dumps have got in."""


@dataclass
class Storm:
    """What the kills came to."""

    kills: int = 0
    rounds: int = 0
    events: int = 0
    faults: list[str] = field(default_factory=list)


def dumps(folder: Path, machines: int) -> dict[str, list[Path]]:
    """Dumps of one night that crosses the end of a month, of each machine; each repeats 20 rows of the one before."""
    found = {}
    for number, machine in enumerate(MACHINES[:machines]):
        rows = lines(runs=80 + number)
        (folder / machine).mkdir()
        found[machine] = parts(folder / machine, rows, range(60, len(rows) - 20, 60), 20)
    return found


def storm(folder: Path, kills: int, seed: int, longest_s: float = 3.0, machines: int = 2) -> Storm:
    """Rounds until so many writers were killed; longest_s: how long one of them may live."""
    rng, done, given = random.Random(seed), Storm(), dumps(folder, machines)
    while done.kills < kills:
        place = folder / f"archive{done.rounds}"
        _round(place, given, min(kills, done.kills + KILLS_A_ROUND), rng, done, longest_s)
        _judge(place, given, done)
        done.rounds += 1
    return done


def _round(
    place: Path, given: dict[str, list[Path]], kills: int, rng: random.Random, done: Storm, longest_s: float
) -> None:
    writers = [_writer(place, given, rng) for _ in range(WRITERS)]
    for writer in writers:
        _ready(writer)
    ends = [time.monotonic() + rng.uniform(0, longest_s) for _ in writers]
    while writers:
        for at, writer in reversed(list(enumerate(writers))):
            if (status := writer.poll()) is not None:
                if status:
                    done.faults.append(f"a writer ended with status {status}")
                del writers[at], ends[at]
            elif done.kills < kills and time.monotonic() > ends[at]:
                writer.kill()
                writer.wait()
                done.kills += 1
                writers[at] = _ready(_writer(place, given, rng))
                ends[at] = time.monotonic() + rng.uniform(0, longest_s)
        time.sleep(0.002)


def _writer(place: Path, given: dict[str, list[Path]], rng: random.Random) -> subprocess.Popen[str]:
    """A process of its own that adds all dumps."""
    paths = [f"{machine}={path}" for machine, files in given.items() for path in files]
    rng.shuffle(paths)
    command = [sys.executable, "-m", "tests.benchmarks.archive", "--writer", str(place), *paths]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def _ready(writer: subprocess.Popen[str]) -> subprocess.Popen[str]:
    """The writer when it has loaded what it needs: its life counts from here."""
    assert writer.stdout is not None
    writer.stdout.readline()
    writer.stdout.close()
    return writer


def _write(place: str, paths: Sequence[str]) -> None:
    import deltalake  # noqa: F401 - all that is needed is loaded before the clock runs

    archive = Archive(place)
    print("ready", flush=True)
    for given in paths:
        machine, _, path = given.partition("=")
        archive.add(path, machine)


def _judge(place: Path, given: dict[str, list[Path]], done: Storm) -> None:
    archive = Archive(place)
    for machine, files in given.items():
        found, right = told(archive, machine), wanted(files)
        done.events += found.height
        if not found.equals(right):
            done.faults.append(f"{place.name}: {machine} has {found.height} events, {right.height} are right")
        if (known := archive.imports(machine)["file"].n_unique()) != len(files):
            done.faults.append(f"{place.name}: {known} of {len(files)} dumps are in the ledger of {machine}")
    verified = archive.verify()
    done.faults += [f"{place.name}: {fault}" for fault in (*verified.faults, *verified.notes)]


def speed(folder: Path, events: float) -> None:
    """Adds ten machines and reads two hours of one; prints the seconds."""
    archive, added, spent = Archive(folder / "archive"), 0, 0.0
    for number in range(10):
        runs = round(events / 10 / 6.55)
        path = folder / f"machine{number}.csv"
        path.write_text("\n".join(["time,signal,value", *lines(runs, every_s=24.0)]) + "\n")
        begun = time.perf_counter()
        added += archive.add(path, f"M-{number}").dumps.events
        spent += time.perf_counter() - begun
        print(f"M-{number}: {added} events in {spent:.1f} s", flush=True)
    whole = archive.events("M-4")
    plain = folder / "plain.parquet"
    whole.write_parquet(plain)
    middle = whole["time"][whole.height // 2]
    end = middle + timedelta(hours=2)

    def from_archive() -> pl.DataFrame:
        return Archive(folder / "archive").events("M-4", middle, end)

    def from_plain() -> pl.DataFrame:
        return pl.scan_parquet(plain).filter(pl.col("time").is_between(middle, end, closed="left")).collect()

    assert from_archive().equals(from_plain())
    taken = {}
    for name, read in (("archive", from_archive), ("plain Parquet", from_plain)):
        times = []
        for _ in range(15):
            begun = time.perf_counter()
            read()
            times.append(time.perf_counter() - begun)
        taken[name] = median(times)
        print(f"two hours of one machine ({from_plain().height} events) from {name}: {1e3 * taken[name]:.1f} ms")
    print(f"ratio {taken['archive'] / taken['plain Parquet']:.1f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--kills", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--events", type=float, default=0)
    parser.add_argument("--writer", nargs="+", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.writer:
        _write(asked.writer[0], asked.writer[1:])
        return
    with TemporaryDirectory() as name:
        if asked.kills:
            done = storm(Path(name), asked.kills, asked.seed)
            print(f"{done.kills} kills in {done.rounds} rounds, {done.events} events judged, {len(done.faults)} faults")
            print("\n".join(done.faults))
            sys.exit(1 if done.faults else 0)
        if asked.events:
            speed(Path(name), asked.events)


if __name__ == "__main__":
    main()
