"""Runs the command line and writes small logs for it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from eventlens.cli import main
from tests.logs import HOIST, at, merged, off, run

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = (
    "review",
    "follow",
    "inspect",
    "compare",
    "trends",
    "patterns",
    "dashboard",
    "password",
    "sample",
    "archive",
)


class Ran(NamedTuple):
    """What a command left behind."""

    status: int
    out: str
    err: str


def ran(capsys: pytest.CaptureFixture[str], *args: str | Path) -> Ran:
    """Runs `main` in this process."""
    capsys.readouterr()
    with pytest.raises(SystemExit) as ended:
        main([str(arg) for arg in args])
    out, err = capsys.readouterr()
    return Ran(int(ended.value.code or 0), out, err)


def spawned(*args: str | Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Runs the command in a process of its own; output as bytes."""
    return subprocess.run(
        command(*args), cwd=ROOT, env={**os.environ, **environment}, capture_output=True, check=False, timeout=60
    )


def command(*args: str | Path) -> list[str]:
    return [sys.executable, "-m", "eventlens.cli", *map(str, args)]


def write_log(path: Path, records: Sequence[tuple[float, str, float | None]] | None = None) -> Path:
    """A dump (time,signal,value) of records; without them that of two ordinary hoist runs and one drop-out."""
    lines = ["time,signal,value"]
    for second, signal, value in records or ordinary():
        stamp = at(second).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        lines.append(f"{stamp},{signal},{value:g}")
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


def ordinary() -> Sequence[tuple[float, str, float | None]]:
    """Raise 5 s, lower 5 s, and a raise that drops out after 1 s while the button is held to 55 s."""
    dropped = run(50, 51, command=(49.95, 55.0), brake=(50.1, 50.9))
    return merged(off(*HOIST), run(10, 15), run(30, 35, "lower"), dropped, [(60.0, "stop.emergency", 0.0)])


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """That dump as a file."""
    return write_log(tmp_path / "monday.csv")
