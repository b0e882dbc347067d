"""How long the review takes beside other ways to the same numbers, from the same file in the same run.

    python -m tests.benchmarks.beside                                   1e5 and 1e6 events, all ways
    python -m tests.benchmarks.beside --events 1e5 1e6 1e7 --write tests/benchmarks/results/speed.csv
    python -m tests.benchmarks.beside --events 1e8 --ways review --files csv --rounds 1

`review` is everything from the file to the JSON text: all patterns, causes, life; `only` its same stages for these
numbers alone, which is what the other ways do. `page` is a review and what its page asks of it, `archive` the way of
the log into an archive and a review of all of it from there. Each way runs in a process of its own, in turn, `--rounds`
times; the fastest counts. Ways whose numbers differ from the review's end the command with status 1. Packages that are
not installed are left out and named: pandas and pm4py are in the extra `beside`. `--slow-to` is the number of events
above which these two are left out. Of 1e8 events the floor alone needs 17 GB; the review needs 16 GB of room for
temporary files.

Two figures of memory: `peak_mb` is all that was in memory at once; `own_mb` is what of it was the program's own. The
rest are pages of files that are mapped (the program, temporary files), which the system takes back when it needs them.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import math
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens.allocator import keep_freed_memory
from tests.benchmarks.beside import duck, frames, log, mining, more, ours

WAYS: Final = ("floor", "review", "only", "duckdb", "pandas", "pm4py", "page", "archive")
STAGED: Final = {"review": ours.review, "page": more.page, "archive": more.archive}
"""Ways that say what their stages took."""
NEEDS: Final = {"pandas": "pandas", "pm4py": "pm4py"}
SLOW: Final = ("pandas", "pm4py")
COLUMNS: Final = ("events", "file", "way", "wall_s", "cpu_s", "peak_mb", "own_mb", "of_floor", "stages")


def only(way: str, path: Path) -> dict[str, Any]:
    """One way in this process; what it imports is there before the clock starts."""
    _import(way)
    with _Watch() as watch:
        wall, cpu = time.perf_counter(), time.process_time()
        numbers, stages = _work(way, path)
        took = {"wall_s": time.perf_counter() - wall, "cpu_s": time.process_time() - cpu}
    return {**took, "peak_mb": _memory_mb("VmHWM"), "own_mb": watch.own_mb, "numbers": numbers, "stages": stages}


def _memory_mb(figure: str) -> float:
    """A figure of this program's memory [MB] (proc(5)): what its parent held when it was started does not count."""
    status = Path("/proc/self/status").read_text()
    return int(status.split(f"{figure}:")[1].split()[0]) / 1024


class _Watch:
    """Looks at the program's own memory every 20 ms; the system keeps the peak of all memory only."""

    def __init__(self) -> None:
        self.own_mb = 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look)

    def _look(self) -> None:
        while not self._over.wait(0.02):
            self.own_mb = max(self.own_mb, _memory_mb("RssAnon"))

    def __enter__(self) -> _Watch:
        self._thread.start()
        return self

    def __exit__(self, *fault: object) -> None:
        self._over.set()
        self._thread.join()
        self.own_mb = max(self.own_mb, _memory_mb("RssAnon"))


def _import(way: str) -> None:
    if way in ("only", *STAGED):
        import scipy.special  # noqa: F401  # loaded when rates are first asked for

        import eventlens.wiring  # noqa: F401
    elif way in NEEDS:
        importlib.import_module(NEEDS[way])


def _work(way: str, path: Path) -> tuple[dict[str, Any], dict[str, float]]:
    if way == "floor":
        ours.floor(path)
        return {}, {}
    if way in STAGED:
        numbers, stages = STAGED[way](path)
        return numbers.as_dict(), stages
    if way == "pm4py":
        runs, release = mining.runs_and_release(path)
        return {"runs": runs, "release_mean_us": release}, {}
    return {"only": ours.numbers, "duckdb": duck.numbers, "pandas": frames.numbers}[way](path).as_dict(), {}


def measured(way: str, path: Path) -> dict[str, Any]:
    """One way in a fresh process."""
    command = [sys.executable, "-m", "tests.benchmarks.beside", "--only", way, "--log", str(path)]
    environment = dict(os.environ)
    keep_freed_memory([str(path)], environment)  # as the command does; for all ways, so that it favours none
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{way} on {path.name} ended with status {done.returncode}: {done.stderr[-2000:]}")
    return dict(json.loads(done.stdout.splitlines()[-1]))


def agree(numbers: dict[str, Any], other: dict[str, Any]) -> list[str]:
    """In what the numbers of another way differ from the review's."""
    shared = [name for name in numbers if name in other]
    return [f"{name}: {other[name]} instead of {numbers[name]}" for name in shared if other[name] != numbers[name]]


def ways_here(events: float, slow_to: float, ways: Sequence[str] = WAYS) -> list[str]:
    """Of these ways those that can run here and are not too slow for so many events."""
    there = [way for way in ways if way not in NEEDS or importlib.util.find_spec(NEEDS[way])]
    return [way for way in there if way not in SLOW or events <= slow_to]


def of_file(path: Path, events: int, ways: Sequence[str], rounds: int) -> list[dict[str, Any]]:
    """One row for each way, and an error where numbers differ."""
    times = [{way: measured(way, path) for way in ways} for _ in range(rounds)]
    least = {way: min((one[way] for one in times), key=lambda took: took["wall_s"]) for way in ways}
    for way in ways:
        if way != "review" and "review" in ways and (wrong := agree(least["review"]["numbers"], least[way]["numbers"])):
            raise SystemExit(f"{way} does not come to the review's numbers: {'; '.join(wrong)}")
    rows = []
    for way in ways:
        took = least[way]
        rows.append(
            {
                "events": events,
                "file": path.suffix[1:],
                "way": way,
                **{key: round(took[key], 3) for key in ("wall_s", "cpu_s")},
                **{key: round(took[key]) for key in ("peak_mb", "own_mb")},
                "of_floor": round(took["wall_s"] / least["floor"]["wall_s"], 2) if "floor" in ways else None,
                "stages": "; ".join(f"{name} {spent:.2f}" for name, spent in took["stages"].items()),
            }
        )
    return rows


def lines_of(rows: Sequence[dict[str, Any]]) -> list[str]:
    """The table as text."""
    lines = [
        f"{'events':>12} {'file':8} {'way':8} {'wall s':>8} {'CPU s':>8} {'peak MB':>8} {'own MB':>8} {'x floor':>8}"
    ]
    for row in rows:
        lines.append(
            f"{row['events']:12,} {row['file']:8} {row['way']:8} {row['wall_s']:8.2f} {row['cpu_s']:8.2f} "
            f"{row['peak_mb']:8,} {row['own_mb']:8,} "
            + ("       -" if row["of_floor"] is None else f"{row['of_floor']:8.2f}")
        )
        lines += [f"{'':22}CPU s: {row['stages']}"] if row["stages"] else []
    return lines


def exponent(rows: Sequence[dict[str, Any]], file: str, key: str = "cpu_s") -> float | None:
    """How the review's time grows with the events: 1 is linear; from the smallest log to the largest."""
    found = [row for row in rows if row["way"] == "review" and row["file"] == file]
    if len(found) < 2:
        return None
    low, high = found[0], found[-1]
    return math.log(high[key] / low[key]) / math.log(high["events"] / low["events"])


def main(arguments: list[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--events", type=float, nargs="+", default=[1e5, 1e6])
    parser.add_argument("--rounds", type=int, default=2)
    parser.add_argument("--slow-to", type=float, default=1e7)
    parser.add_argument("--ways", nargs="+", choices=WAYS, default=WAYS)
    parser.add_argument("--files", nargs="+", choices=("csv", "parquet"), default=("csv", "parquet"))
    parser.add_argument("--folder", type=Path, help="where the logs are written; else a folder that is taken away")
    parser.add_argument("--write", type=Path, help="also write the table as CSV")
    parser.add_argument("--only", choices=WAYS, help=argparse.SUPPRESS)
    parser.add_argument("--log", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args(arguments)
    if given.only:
        print(json.dumps(only(given.only, given.log)))
        return 0
    rows: list[dict[str, Any]] = []
    for events in given.events:
        with tempfile.TemporaryDirectory(dir=given.folder) as name:
            height = log.write(Path(name), int(events))
            ways = ways_here(events, given.slow_to, given.ways)
            for kind in given.files:
                new = of_file(Path(name) / f"log.{kind}", height, ways, given.rounds)
                print("\n".join(lines_of(new)), flush=True)
                rows += new
    for kind in given.files:
        if (power := exponent(rows, kind)) is not None:
            print(f"{kind}: CPU time of the review grows with events to the power of {power:.2f}")
    missing = sorted(set(given.ways) - set(ways_here(0, math.inf, given.ways)))
    print(f"{os.cpu_count()} cores" + (f"; not installed: {', '.join(missing)}" if missing else ""))
    if given.write:
        pl.DataFrame(rows, schema=list(COLUMNS), infer_schema_length=None).write_csv(given.write)
    return 0


if __name__ == "__main__":
    sys.exit(main())
