"""Small dumps of one invented hoist, whole and in parts that overlap; they cross the end of a month."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import polars as pl

import eventlens
from eventlens.archive import Archive

HEAD = "time,signal,value"
BEGIN = datetime(2026, 3, 31, 20, 0, 0, tzinfo=UTC)
MACHINE = """[machine]
id = "DOCK-5"
group = "M3"
"""


def stamp(second: float) -> str:
    return (BEGIN + timedelta(seconds=second)).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def row(second: float, signal: str, value: float) -> str:
    return f"{stamp(second)},{signal},{value:g}"


def lines(runs: int = 80, every_s: float = 360.0) -> list[str]:
    """Rows of a raise and a lower in turn, eight hours long; each ninth run drops out while the button is held.

    At some stamps the same row stands twice: a real repeat.
    """
    found = [row(0, f"hoist.{name}", 0) for name in ("raise.command", "lower.command", "brake.released")]
    for number in range(runs):
        t, way = 10 + number * every_s, "raise" if number % 2 == 0 else "lower"
        held = 9.0 if number % 9 else 4.0
        found += [
            row(t, f"hoist.{way}.command", 1),
            row(t + 0.05, f"hoist.{way}.contactor", 1),
            row(t + 0.2, "hoist.brake.released", 1),
            row(t + held, f"hoist.{way}.contactor", 0),
            row(t + held + 0.1, "hoist.brake.released", 0),
            row(t + 9.0, f"hoist.{way}.command", 0),
        ]
        if number % 7 == 3:
            found += [row(t + 20, "fault.reset", 1)] * 2 + [row(t + 21, "fault.reset", 0)] * 2
    return found


def write(path: Path, rows: Sequence[str]) -> Path:
    path.write_text("\n".join([HEAD, *rows]) + "\n", "utf-8")
    return path


def parts(folder: Path, rows: Sequence[str], borders: Sequence[int], overlap: int) -> list[Path]:
    """The rows as files; each but the first begins with the last `overlap` rows of the one before."""
    edges = [0, *borders, len(rows)]
    return [
        write(folder / f"part{number}.csv", rows[max(begin - overlap, 0) : end])
        for number, (begin, end) in enumerate(pairwise(edges))
    ]


def machine_file(folder: Path) -> Path:
    path = folder / "dock-5.toml"
    path.write_text(MACHINE, "utf-8")
    return path


def told(archive: Archive, machine: str = "DOCK-5") -> pl.DataFrame:
    """The events as tuples of what a log says, in order."""
    return archive.events(machine).select("time", "signal", "value")


def wanted(paths: Sequence[Path], profile: Path | None = None) -> pl.DataFrame:
    """The same, from reading the files together."""
    return eventlens.read(list(paths), profile).events.select("time", pl.col("signal").cast(pl.String), "value")


def state(archive: Archive) -> dict[str, pl.DataFrame]:
    """Everything that an archive holds of dumps, but for who added them and when."""
    imports = archive.imports().drop("who", "added")
    return {
        "events": pl.concat([archive.events(name) for name in archive.machines()]),
        "set_aside": pl.concat([archive.set_aside(name) for name in archive.machines()]),
        "imports": imports.sort("machine", "month", "name", "file"),
    }
