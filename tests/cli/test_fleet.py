"""The command `fleet`: what it prints, its JSON and its exit status, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from eventlens import Archive
from tests.archive.stories import lines, write
from tests.cli.runner import ran, write_log

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def reviewed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two machines whose week is there: one finding, repair; that of MIXED-1 has two profiles and no review."""
    folder = tmp_path_factory.mktemp("fleet")
    archive, profile = Archive(folder / "history"), folder / "p.toml"
    profile.write_text('[log]\ntimezone = "UTC"\n')
    archive.add(write_log(folder / "a.csv"), "DOCK-5")
    archive.add(write(folder / "b.csv", lines(10)), "MIXED-1")
    archive.add(write(folder / "c.csv", lines(11)), "MIXED-1", profile)
    archive.bring_up_to_date()
    return folder / "history"


def test_what_is_there_is_told_with_its_errors(reviewed: Path, tmp_path: Path, capsys: Capture) -> None:
    done = ran(capsys, "fleet", reviewed, "--json", tmp_path / "fleet.json")
    assert done.status == 1  # a machine has an error, the other is told all the same
    assert done.err == "eventlens: 1 error\n"
    assert "2 machines: by week\n  0 reviews made, 2 there already, 1 error\n" in done.out
    # one run drops out while the button is held: see runner.ordinary
    assert "    repair: hoist: drop-out, 1 x in 1 period, last 2026-03-02\n" in done.out
    assert "MIXED-1 2026-W14: wanted dumps of the period that were added with one profile" in " ".join(done.out.split())
    assert "Before opening anything: land the load" in done.out
    told = json.loads((tmp_path / "fleet.json").read_text())
    assert (told["contract"], told["period"]) == (1, "week")
    assert [machine["machine"] for machine in told["machines"]] == ["DOCK-5", "MIXED-1"]
    dock = told["machines"][0]
    assert {name: dock[name] for name in ("periods", "made", "kept", "silent", "failed")} == {
        "periods": 1,
        "made": 0,
        "kept": 1,
        "silent": 0,
        "failed": 0,
    }
    assert dock["most_serious"]["pattern"] == "drop_out"
    assert [dock[name] for name in ("out_of_service", "repair", "watch", "note")] == [0, 1, 0, 0]
    assert told["findings"][0] == dock["most_serious"]
    assert [(error["machine"], error["period"]) for error in told["errors"]] == [("MIXED-1", "2026-W14")]


def test_findings_that_were_asked_about_come_before_errors(reviewed: Path, capsys: Capture) -> None:
    done = ran(capsys, "fleet", reviewed, "--fail-on", "repair", "--quiet")
    assert (done.status, done.out, done.err) == (3, "", "")
    assert ran(capsys, "fleet", reviewed, "--fail-on", "out_of_service", "--quiet").status == 1
    alone = ran(capsys, "fleet", reviewed, "--fail-on", "out_of_service", "--machine", "DOCK-5")
    assert (alone.status, alone.err) == (0, "")
    assert "MIXED-1" not in alone.out


def test_other_periods_are_reviewed_here_and_kept_apart(tmp_path: Path, capsys: Capture) -> None:
    archive = Archive(tmp_path / "history")
    archive.add(write(tmp_path / "a.csv", lines(10)), "DOCK-5")
    done = ran(capsys, "fleet", tmp_path / "history", "--period", "all", "--workers", "1")
    assert done.status == 0
    assert "1 machine: by all\n  1 review made, 0 there already, 0 errors\n" in done.out
    assert archive.stored_weeks().is_empty()
    archive.export(tmp_path / "periods.csv", "periods")
    assert "DOCK-5,all" in (tmp_path / "periods.csv").read_text()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--period", "weekly"), "wanted week, month, all or FROM..TO as 2026-04-01..2026-05-01, got 'weekly'"),
        (("--cluster", "tcp://127.0.0.1:1", "--workers", "2"), "wanted no --workers with --cluster, got both"),
        (("--cluster", "tcp://127.0.0.1:1", "--memory-limit", "2"), "wanted no --memory-limit with --cluster"),
        (("--machine", "DOCK-6"), "wanted a machine of the archive, got 'DOCK-6'; did you mean 'DOCK-5'?"),
        (("--json", "no/such/fleet.json"), "wanted a folder that exists for --json"),
    ],
)
def test_what_cannot_be_meant(reviewed: Path, options: tuple[str, ...], said: str, capsys: Capture) -> None:
    done = ran(capsys, "fleet", reviewed, *options)
    assert done.status == 1
    assert said in done.err
    assert done.err.count("\n") == 1
