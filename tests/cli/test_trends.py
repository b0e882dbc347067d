"""The command `trends`: an archive of two machines in the terminal and as JSON, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import eventlens
from tests.cli.runner import ran

CHANGES = "Time,Tag,State\n"
SIGNALS = ("hoist.raise.command", "hoist.raise.contactor", "hoist.brake.released")


def dump(path: Path, day: int) -> Path:
    """Twenty runs of ten seconds on a day of April 2026, from six in the morning on."""
    lines = [CHANGES]
    for n in range(20):
        for second, value in ((0, 1), (10, 0)):
            lines += [f"2026-04-{day:02d}T06:{n:02d}:{second:02d}Z,{name},{value}\n" for name in SIGNALS]
    path.write_text("".join(lines))
    return path


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    history = eventlens.Archive(tmp_path / "history")
    for machine in ("SAW-3", "DOCK-5"):
        for day in (6, 13, 20):
            history.add([dump(tmp_path / f"{machine}-{day}.csv", day)], machine)
    return tmp_path / "history"


def test_every_machine_and_week_of_the_archive_is_told(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "trends", kept, "--json", "-")
    assert done.status == 0
    content = json.loads(done.out)
    assert content["machines"] == ["DOCK-5", "SAW-3"]
    assert content["weeks"] == ["2026-W15", "2026-W16", "2026-W17"]


def test_the_report_goes_to_the_terminal(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "trends", kept, "--machine", "SAW-3")
    assert done.status == 0
    assert "SAW-3" in done.out
    assert "DOCK-5" not in done.out


def test_an_unknown_machine_is_refused_with_the_nearest(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "trends", kept, "--machine", "SAW-4")
    assert done.status == 1
    assert "SAW-3" in done.err


def test_no_archive_is_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "trends", tmp_path / "nothing")
    assert done.status == 1
    assert done.err.strip().count("\n") == 0
