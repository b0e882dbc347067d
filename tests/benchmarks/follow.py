"""What following costs: events a second, the way from an event to its finding, memory over a month, second thoughts.

    taskset -c 0 python -m tests.benchmarks.follow --days 26
    taskset -c 0 python -m tests.benchmarks.follow --days 26 --write tests/benchmarks/results/follow.csv

A simulated machine with faults. All days but the last, a Friday, are given as fast as they are taken: that is the rate.
Lines of its working hours are then written one by one at `--pace` lines a second (a hoist writes one in three seconds),
by a thread, into a file that is followed. For each finding `program` is how long it took from the writing of the line
that settled it (the first one that far after its end) until it was told; `needed` is how far after its end that line is
stamped: what its pattern needs, late records, and the wait for a next line. Second thoughts are findings that were told
again, by why; in the end the review must be that of the whole file.
"""

from __future__ import annotations

import argparse
import resource
import shutil
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Sequence
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.live import Follower, Message
from eventlens.live.sources.file import FileSource
from eventlens.machine import Machine
from eventlens.patterns import catalogue
from eventlens.reading import Profile
from eventlens.simulation import Faults, Scenario, simulate
from eventlens.wiring import review

HEADER: Final = "time,signal,value\n"
SCENARIO: Final = Scenario(
    faults=Faults(
        loose_relay={"hoist.raise": 0.01, "bridge.forward": 0.01},
        timer_missing=0.02,
        confirm_missing=0.004,
        confirm_lost=0.004,
        apply_late=0.01,
        stray=0.5,
        holes_per_day=0.5,
    ),
    habits={"jog": 0.2, "cycles_per_h": 15, "snatch": 0.05},
)
LATE_S: Final = 2.0


class Ear:
    """Remembers what was told, and when."""

    def __init__(self) -> None:
        self.heard: list[tuple[float, Message]] = []

    def last(self) -> int | None:
        """It wants what is new."""
        return None

    def tell(self, messages: Sequence[Message]) -> None:
        """Remembers them."""
        self.heard += [(time.monotonic(), message) for message in messages]

    def close(self) -> None:
        """Nothing is to be closed."""


def month(days: int, seed: int) -> tuple[list[str], pl.Series, int, Machine]:
    """The lines of a log, their stamps, the first line of the last day's work, and the machine."""
    simulated = simulate(SCENARIO, seed=seed, days=days, step_s=0.01)
    records = simulated.recording.records
    rows = records.select("time", "name", "value").rows()
    lines = [f"{stamp.isoformat()},{name},{value:g}\n" for stamp, name, value in rows]
    work = simulated.start + timedelta(days=days - 1, hours=SCENARIO.shifts[0][0] + 0.5)
    return lines, records["time"], int(records["time"].search_sorted(work)), simulated.machine


def written(path: Path, lines: list[str], pace: float, at: list[float]) -> None:
    """Writes lines at a pace [lines a second], a few at a time, and notes when."""
    begun = time.monotonic()
    with path.open("a", buffering=1) as file:
        for number, line in enumerate(lines):
            ahead = begun + number / pace - time.monotonic()
            if ahead > 0:
                time.sleep(ahead)
            file.write(line)
            at.append(time.monotonic())


def waits(heard: list[tuple[float, Message]], stamps: pl.Series, at: list[float]) -> list[tuple[float, float]]:
    """(needed, program) [s] of what was told of the written lines.

    stamps: of these lines; at: when each was written. Not of what goes on, and of windows of an hour.
    """
    found = []
    for when, message in heard:
        pattern, end = catalogue()[message.occurrence["pattern"]], message.occurrence["end"]
        if message.told != "found" or message.going_on or pattern.settles_s >= 3600 or end < stamps[0]:
            continue
        line = int(stamps.search_sorted(end + timedelta(seconds=pattern.settles_s + LATE_S)))
        if line < len(at):
            found.append(((stamps[line] - end).total_seconds(), when - at[line]))
    return found


def measured(days: int, pace: float, seed: int, lines_live: int, folder: Path) -> dict[str, float]:
    """All figures; AssertionError where the end is not that of a review."""
    lines, stamps, first, machine = month(days, seed)
    lines = lines[: first + lines_live]
    path, ear = folder / "log.csv", Ear()
    at: list[float] = []
    path.write_text(HEADER + "".join(lines[:first]))
    figures: dict[str, float] = {"days": days, "lines": len(lines), "megabytes": path.stat().st_size / 1e6}
    with closing(Follower(FileSource(path), folder / "state", Profile(), machine, listeners=[ear])) as one:
        begun, cpu = time.monotonic(), time.process_time()
        while one.idle_s < 0.5 or one.is_behind:
            one.step(0.1)
        took = time.monotonic() - begun - 0.5
        figures |= {"events_per_s": first / took, "caught_up_s": took, "caught_up_cpu_s": time.process_time() - cpu}
        before = len(ear.heard)
        writer = threading.Thread(target=written, args=(path, lines[first:], pace, at))
        begun, cpu = time.monotonic(), time.process_time()
        writer.start()
        while writer.is_alive() or one.idle_s < 5 or one.is_behind:
            one.step(0.5)
        figures["live_cpu_share"] = (time.process_time() - cpu) / (time.monotonic() - begun)
        live = ear.heard[before:]
        found = one.finish()
    assert found is not None
    whole = review(path, None, machine)
    assert found.to_json() == whole.to_json()
    both = pl.DataFrame(waits(live, stamps[first:], at), schema=["needed_s", "program_s"], orient="row")
    for name in both.columns:
        for part, share in (("median", 0.5), ("p99", 0.99)):
            figures[f"{name}_{part}"] = float(both[name].quantile(share, "nearest") or 0.0)
    figures |= {"findings_live": both.height, "memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}
    again = Counter(f"{message.told}: {message.why}" for _, message in ear.heard)
    figures |= {f"told {why}": float(count) for why, count in sorted(again.items())}
    return figures


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--days", type=int, default=26)
    parser.add_argument("--pace", type=float, default=20.0, help="lines a second at the end")
    parser.add_argument("--live", type=int, default=4000, help="lines that are written at this pace")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--write", type=Path, help="also write the figures as CSV")
    given = parser.parse_args(arguments)
    folder = Path(tempfile.mkdtemp(prefix="eventlens-"))
    try:
        figures = measured(given.days, given.pace, given.seed, given.live, folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    for name, value in figures.items():
        print(f"{name:60} {value:12.3f}")
    if given.write:
        pl.DataFrame({"figure": list(figures), "value": list(figures.values())}).write_csv(given.write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
