"""What following costs: events a second, the way from an event to its finding, memory over a month, second thoughts.

    taskset -c 0 python -m tests.benchmarks.follow
    taskset -c 0 python -m tests.benchmarks.follow --write tests/benchmarks/results/follow.csv

A simulated machine with faults, twenty-six days from a Monday to a Friday. Three passes:

1. caught up: all days but the last are there when following begins; how many lines a second of this core are taken,
   looked at and told.
2. live: lines of the last day's work are written one by one at `--pace` lines a second (a hoist writes one in three
   seconds), by a thread, into the file that is followed. For each finding `program` is how long it took from the
   writing of the line that settled it (the first one that far after its end) until it was told; `needed` is how far
   after its end that line is stamped: what its pattern needs, late records, and the wait for a next line. A look's own
   cost is given in seconds of this core, for the clock on the wall also counts what else runs here. Then the review
   must be that of the whole file.
3. second thoughts: the days are given anew, some hundred lines at a time, each looked at; how many findings were told
   again, and why.
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
        loose_relay={"hoist.raise": 0.02, "bridge.forward": 0.02},
        timer_missing=0.1,
        confirm_missing=0.01,
        confirm_lost=0.01,
        apply_late=0.02,
        brake_late=0.02,
        stray=1.0,
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
    """The figures of the first two passes; AssertionError where the end is not that of a review."""
    lines, stamps, first, machine = month(days, seed)
    lines = lines[: first + lines_live]
    path, ear = folder / "log.csv", Ear()
    at: list[float] = []
    path.write_text(HEADER + "".join(lines[:first]))
    figures: dict[str, float] = {"days": days, "lines": len(lines), "megabytes": path.stat().st_size / 1e6}
    with closing(Follower(FileSource(path), folder / "state", Profile(), machine, listeners=[ear])) as one:
        cpu = time.process_time()
        while one.idle_s < 0.5 or one.is_behind:
            one.step(0.1)
        figures["caught up: lines per s of the core"] = first / (time.process_time() - cpu)
        before, costs = len(ear.heard), costs_of_looks(one)
        writer = threading.Thread(target=written, args=(path, lines[first:], pace, at))
        begun, cpu = time.monotonic(), time.process_time()
        writer.start()
        while writer.is_alive() or one.idle_s < 5 or one.is_behind:
            one.step(0.5)
        figures["live: share of the core"] = (time.process_time() - cpu) / (time.monotonic() - begun)
        live = ear.heard[before:]
        found = one.finish()
    assert found is not None
    assert found.to_json() == review(path, None, machine).to_json()
    both = pl.DataFrame(waits(live, stamps[first:], at), schema=["needed", "program"], orient="row")
    looks = pl.Series(costs)
    for name, values in (*((name, both[name]) for name in both.columns), ("look, of the core", looks)):
        for part, share in (("median", 0.5), ("p99", 0.99)):
            figures[f"live: {name} {part} [s]"] = float(values.quantile(share, "nearest") or 0.0)
    figures |= {"live: findings": both.height, "live: looks": len(costs)}
    return figures | {"memory [MB]": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}


def costs_of_looks(one: Follower) -> list[float]:
    """What each look from now on costs [s of the core]."""
    costs: list[float] = []
    look = one.look

    def timed(*, whole: bool = False) -> None:
        cpu = time.process_time()
        look(whole=whole)
        costs.append(time.process_time() - cpu)

    one.look = timed  # type: ignore[method-assign]
    return costs


def second_thoughts(days: int, seed: int, lines_each: int, folder: Path) -> dict[str, float]:
    """How many messages of which kind there are when the log comes in small parts and each is looked at."""
    lines, _, _, machine = month(days, seed)
    path, ear = folder / "parts.csv", Ear()
    path.write_text(HEADER)
    with closing(Follower(FileSource(path, every_s=0.0), folder / "parts", Profile(), machine, listeners=[ear])) as one:
        costs = costs_of_looks(one)
        for begin in range(0, len(lines), lines_each):
            with path.open("a") as file:
                file.write("".join(lines[begin : begin + lines_each]))
            one.take(0.0)
            one.look()
        one.finish()
    kinds = Counter(f"{message.told} {message.why}".strip() for _, message in ear.heard)
    own = {f"second thoughts: {kind}": float(count) for kind, count in sorted(kinds.items())}
    return {"second thoughts: days": days, "second thoughts: looks": len(costs), **own}


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--days", type=int, default=26)
    parser.add_argument("--pace", type=float, default=5.0, help="lines a second at the end")
    parser.add_argument("--live", type=int, default=1500, help="lines that are written at this pace")
    parser.add_argument("--again", type=int, default=12, help="days of the third pass")
    parser.add_argument("--each", type=int, default=400, help="lines between its looks")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--write", type=Path, help="also write the figures as CSV")
    given = parser.parse_args(arguments)
    folder = Path(tempfile.mkdtemp(prefix="eventlens-"))
    try:
        figures = measured(given.days, given.pace, given.seed, given.live, folder)
        figures |= second_thoughts(given.again, given.seed, given.each, folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    for name, value in figures.items():
        print(f"{name:60} {value:12.3f}")
    if given.write:
        pl.DataFrame({"figure": list(figures), "value": [float(value) for value in figures.values()]}).write_csv(
            given.write
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
