"""A week of any number of events: hoist, trolley and bridge in an invented working life squeezed into seven days.

Half a million events are a start about every ten seconds on each motion all week; ten million are two starts a second,
which no hoist makes but a contactor that chatters does.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Final

import numpy as np
import polars as pl

from tests.benchmarks.beside.log import pieces

WEEK_MS: Final = 7 * 24 * 3600 * 1000
BEGINS: Final = datetime(2026, 3, 2)
MOTIONS: Final = {
    "H": ("hoist", "raise", "lower"),
    "T": ("trolley", "left", "right"),
    "B": ("bridge", "forward", "reverse"),
}
LOADS: Final = 0.1
"""Share of the events that are values of the measured load."""
TRIPS: Final = 40
"""Pulses of the overload device in the week, each as short as the log step of 1 ms."""
MACHINE: Final = '[machine]\nid = "BUSY-1"\ngroup = "M7"\nrated_load_kg = 3200\n'


def profile() -> str:
    """What the names of the log stand for."""
    lines = [
        "[log]",
        'layout = "changes"',
        'time = "Time"',
        'name = "Tag"',
        'value = "State"',
        'timezone = "UTC"',
        "[signals]",
    ]
    for tag, (motion, first, second) in MOTIONS.items():
        lines += [
            f'{tag}S1 = "{motion}.{first}.command"',
            f'{tag}S2 = "{motion}.{second}.command"',
            f'{tag}K1 = "{motion}.{first}.contactor"',
            f'{tag}K2 = "{motion}.{second}.contactor"',
            f'{tag}K3 = "{motion}.fast.contactor"',
            f'{tag}B3 = "{motion}.brake.released"',
        ]
    return "\n".join([*lines, 'LOAD = "load.kg"', 'TRIP = "overload.trip"'])


def busy_week(events: int, seed: int = 1) -> pl.DataFrame:
    """About this many events: (ms since the beginning, name, state), in order."""
    rng = np.random.default_rng(seed)
    parts = []
    for n, tag in enumerate(MOTIONS):
        life = pl.concat(pieces(int(events * (1 - LOADS) / len(MOTIONS)), seed + n))
        squeezed = (pl.col("ms") * (WEEK_MS / life["ms"][-1])).cast(pl.Int64)
        parts.append(
            life.select(squeezed, (pl.lit(tag) + pl.col("name")).alias("name"), pl.col("state").cast(pl.Float64))
        )
    loads = np.sort(rng.integers(0, WEEK_MS, int(events * LOADS)))
    kilograms = rng.integers(0, 3200, len(loads)).astype(np.float64)
    parts.append(pl.DataFrame({"ms": loads, "name": "LOAD", "state": kilograms}, schema=parts[0].schema))
    trips = np.sort(rng.integers(1, WEEK_MS, TRIPS))
    ends = pl.DataFrame(
        {
            "ms": np.concatenate(([0], np.column_stack((trips, trips + 1)).ravel())),
            "name": "TRIP",
            "state": np.concatenate(([0.0], np.tile([1.0, 0.0], TRIPS))),
        },
        schema=parts[0].schema,
    )
    return pl.concat([*parts, ends]).sort("ms", maintain_order=True)


def write(folder: Path, events: int) -> int:
    """Writes log, profile and machine file; returns the number of rows."""
    frame = busy_week(events)
    instant = pl.lit(BEGINS) + pl.duration(milliseconds=pl.col("ms"))
    frame.select(Time=instant.dt.strftime("%Y-%m-%d %H:%M:%S%.3f"), Tag="name", State="state").write_csv(
        folder / "log.csv", separator=";"
    )
    (folder / "profile.toml").write_text(profile())
    (folder / "machine.toml").write_text(MACHINE)
    return frame.height
