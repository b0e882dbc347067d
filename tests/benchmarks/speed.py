"""How long a whole review takes, held against the bare floor in the same run: read, parse the time, sort.

    python -m tests.benchmarks.speed [--events 10000000] [--rounds 3]

Writes a delimited log of a long invented working life, then times, each in a process of its own and in turn:
floor: polars reads the file as text, parses the stamps by an explicit format and sorts by time; review: everything
from the file to the JSON text. Prints the ratio of the fastest of each, and the peak memory of each.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path

import numpy as np
import polars as pl

import eventlens

PROFILE = """
[log]
layout = "changes"
time = "Time"
name = "Tag"
value = "State"
timezone = "UTC"
[signals]
S1 = "hoist.raise.command"
S2 = "hoist.lower.command"
K1 = "hoist.raise.contactor"
K2 = "hoist.lower.contactor"
K3 = "hoist.fast.contactor"
B3 = "hoist.brake.released"
"""
MACHINE = '[machine]\nid = "LONG-LIFE"\ngroup = "M5"\n'
FORMAT = "%Y-%m-%d %H:%M:%S%.3f"


def working_life(events: int, seed: int = 1) -> pl.DataFrame:
    """About this many events of a hoist at a 10 ms step: (ms, name, state), in order; six to eight for each run."""
    n = events // 8
    rng = np.random.default_rng(seed)

    def drawn(low: int, high: int) -> np.ndarray:
        return rng.integers(low, high, n) * 10

    hold = np.where(rng.random(n) < 0.1, drawn(20, 80), drawn(150, 800))
    asked = np.cumsum(drawn(300, 3000) + hold)
    closed = asked + drawn(2, 6)
    released = closed + drawn(10, 25)
    fast, slow = closed + 400 + drawn(0, 2), asked + hold - 50
    let_go = asked + np.maximum(hold, 300)
    dropped = rng.random(n) < 0.0005
    opened = np.where(dropped, released + 200, let_go + 20)
    let_go = np.where(dropped, np.maximum(let_go, opened + 400), let_go)
    applied = opened + drawn(5, 15)
    in_fast = (hold > 1500) & ~dropped
    raising = rng.random(n) < 0.5
    always = np.full(n, True)
    edges = [
        (asked, np.where(raising, "S1", "S2"), 1, always),
        (closed, np.where(raising, "K1", "K2"), 1, always),
        (released, np.full(n, "B3"), 1, always),
        (fast, np.full(n, "K3"), 1, in_fast),
        (slow, np.full(n, "K3"), 0, in_fast),
        (let_go, np.where(raising, "S1", "S2"), 0, always),
        (opened, np.where(raising, "K1", "K2"), 0, always),
        (applied, np.full(n, "B3"), 0, always),
    ]
    parts = [
        pl.DataFrame({"ms": t, "name": name, "state": np.full(n, state)}).filter(pl.Series(keep))
        for t, name, state, keep in edges
    ]
    names = ["S1", "S2", "K1", "K2", "K3", "B3"]
    rest = pl.DataFrame({"ms": [0] * 6, "name": names, "state": [0] * 6}, schema=parts[0].schema)
    return pl.concat([rest, *parts]).sort("ms", maintain_order=True)


def write(folder: Path, events: int) -> int:
    """Writes log, profile and machine file; returns the number of rows."""
    frame = working_life(events)
    instant = pl.lit(datetime(2026, 3, 2, 6)) + pl.duration(milliseconds=pl.col("ms"))
    frame.select(Time=instant.dt.strftime(FORMAT), Tag="name", State="state").write_csv(
        folder / "log.csv", separator=";"
    )
    (folder / "profile.toml").write_text(PROFILE)
    (folder / "machine.toml").write_text(MACHINE)
    return frame.height


def floor(folder: Path) -> int:
    """The least that any reader does with this file."""
    frame = pl.read_csv(folder / "log.csv", separator=";", infer_schema=False)
    frame = frame.with_columns(pl.col("Time").str.to_datetime(FORMAT, time_unit="us"))
    return frame.sort("Time", maintain_order=True).height


def review(folder: Path) -> int:
    """From the file to the JSON text."""
    done = eventlens.review(folder / "log.csv", folder / "profile.toml", folder / "machine.toml")
    (folder / "review.json").write_text(done.to_json())
    return done.runs.height


def measured(what: str, folder: Path) -> dict[str, float]:
    """Runs one of the two in a fresh process: wall and CPU time [s] without imports of polars, peak memory [MB]."""
    command = [sys.executable, "-m", "tests.benchmarks.speed", "--only", what, "--folder", str(folder)]
    out = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return dict(json.loads(out))


def only(what: str, folder: Path) -> None:
    """One of the two in this process; what it imports is there before the clock starts."""
    import scipy.special  # noqa: F401  # loaded when rates are first asked for

    import eventlens.wiring  # noqa: F401

    wall, cpu = time.perf_counter(), time.process_time()
    {"floor": floor, "review": review}[what](folder)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({"wall": time.perf_counter() - wall, "cpu": time.process_time() - cpu, "peak_mb": peak}))


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--events", type=float, default=1e7)
    options.add_argument("--rounds", type=int, default=3)
    options.add_argument("--only", choices=["floor", "review"])
    options.add_argument("--folder", type=Path)
    given = options.parse_args()
    if given.only:
        return only(given.only, given.folder)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        rows = write(folder, int(given.events))
        size = (folder / "log.csv").stat().st_size / 1e6
        rounds = [{what: measured(what, folder) for what in ("floor", "review")} for _ in range(given.rounds)]
    print(f"{rows:,} events, {size:.0f} MB delimited text, fastest of {given.rounds} rounds")
    print(f"{'':8}{'wall s':>9}{'CPU s':>9}{'peak MB':>9}")
    for what in ("floor", "review"):
        least = {key: min(r[what][key] for r in rounds) for key in ("wall", "cpu", "peak_mb")}
        print(f"{what:8}{least['wall']:9.2f}{least['cpu']:9.2f}{least['peak_mb']:9.0f}")
    walls = {what: min(r[what]["wall"] for r in rounds) for what in ("floor", "review")}
    print(f"review / floor = {walls['review'] / walls['floor']:.2f}")
    return None


if __name__ == "__main__":
    main()
