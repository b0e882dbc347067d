"""Guards `eventlens sample`: it hands its options to the demonstration and writes something that can be reviewed."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from pathlib import Path

import pytest

from eventlens.simulation import demonstration
from tests.cli.runner import ran

Capture = pytest.CaptureFixture[str]


def test_options_are_handed_on(tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[Path, int, int]] = []

    def write(directory: Path, *, weeks: int, seed: int, progress: Callable[[str], None]) -> None:
        progress("stage [1]")
        asked.append((directory, weeks, seed))

    own = inspect.signature(demonstration.write).parameters
    monkeypatch.setattr(demonstration, "write", write)
    done = ran(capsys, "sample", tmp_path, "--weeks", "3", "--seed", "5")
    assert (done.status, done.out) == (0, "")
    assert str(tmp_path) in done.err
    ran(capsys, "sample", tmp_path)
    assert asked == [(tmp_path, 3, 5), (tmp_path, own["weeks"].default, own["seed"].default)]


def test_what_it_writes_can_be_reviewed(tmp_path: Path, capsys: Capture) -> None:
    assert ran(capsys, "sample", tmp_path / "logs", "--weeks", "1").status == 0
    home = tmp_path / "logs" / "SAW-3"
    dump = next(home.glob("*.csv"))
    settings = ("--profile", home / "profile.toml", "--machine", home / "machine.toml")
    done = ran(capsys, "review", dump, *settings)
    assert (done.status, done.err) == (0, "")
    assert done.out.startswith("SAW-3: ")


def test_a_place_that_cannot_be_written(tmp_path: Path, capsys: Capture) -> None:
    taken = tmp_path / "taken"
    taken.write_text("a file", "utf-8")
    done = ran(capsys, "sample", taken, "--weeks", "1")
    assert (done.status, done.out) == (1, "")
    assert done.err.startswith(f"eventlens: {taken}: wanted a place that can be written for DIR")
