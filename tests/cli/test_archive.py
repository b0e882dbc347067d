"""`eventlens archive` on the command line: what it prints, its status, its errors."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.archive.stories import lines, machine_file, write
from tests.cli.runner import ran

Capture = pytest.CaptureFixture[str]


def test_add_list_verify_export_weeks(tmp_path: Path, capsys: Capture) -> None:
    night, machine, place = write(tmp_path / "night.csv", lines(9)), machine_file(tmp_path), tmp_path / "history"
    # 3 rows and 6 for each run, 4 more after the fourth, by hand
    done = ran(capsys, "archive", "add", place, night, "--machine", machine, "--repair", "2026-04-02T10:00Z new relay")
    assert done == (0, "", "eventlens: DOCK-5: 1 new dump, 61 events in 2026-03; 0 known already; 2 new entries\n")
    done = ran(capsys, "archive", "add", place, night, "--machine", "DOCK-5", "--who", "foreman")
    assert done == (0, "", "eventlens: DOCK-5: 0 new dumps; 1 known already; 0 new entries\n")

    listed = ran(capsys, "archive", "list", place)
    assert (listed.status, listed.err) == (0, "")
    first = listed.out.splitlines()
    assert first[0].split() == ["machine", "month", "dumps", "events", "set_aside", "first", "last"]
    assert first[1].split()[:5] == ["DOCK-5", "2026-03", "1", "61", "0"]
    assert any(line.split()[:4] == ["DOCK-5", "2026-04-02", "10:00:00Z", "repair"] for line in first)

    done = ran(capsys, "archive", "verify", place, "--sweep")
    assert (done.status, done.out) == (0, "")
    assert done.err.startswith("eventlens: 0 faults in 1 machines, 1 dumps, 1 months, 61 events and 0 rows set aside\n")

    done = ran(capsys, "archive", "export", place, tmp_path / "events.csv", "--to", "2026-03-31T20:00:05Z")
    assert done == (0, "", "eventlens: 3 rows\n")
    assert len((tmp_path / "events.csv").read_text().splitlines()) == 1 + 3

    done = ran(capsys, "archive", "weeks", place, "--machine", "DOCK-5")
    assert done.status == 0
    assert done.out.splitlines()[1].split()[:2] == ["DOCK-5", "2026-W14"]


def test_a_fault_is_printed_and_makes_the_status(tmp_path: Path, capsys: Capture) -> None:
    place = tmp_path / "history"
    ran(capsys, "archive", "add", place, write(tmp_path / "night.csv", lines(9)), "--machine", "DOCK-5", "--quiet")
    gone = next(place.glob("dumps/machine=*/month=*/*.parquet"))
    gone.unlink()
    done = ran(capsys, "archive", "verify", place)
    assert done.status == 1
    assert done.out.startswith(f"The file {gone.relative_to(place)} is missing.\n")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("add", "history"), "eventlens: wanted the machine whose dumps they are, got nothing; name it, or give its"),
        (("add", "history", "no.csv", "--machine", "A"), "eventlens: no.csv: wanted a log file, got no such file"),
        (("add", "history", "--machine", "no.toml"), "eventlens: no.toml: wanted a settings file, got No such file"),
        (
            ("list", "history"),
            "wanted an archive, got nothing there; check the path, or begin one with eventlens archive",
        ),
        (("verify", "history"), "wanted an archive, got nothing there"),
        (("export", "history", "x.csv"), "wanted an archive, got nothing there"),
        (("weeks", "history"), "wanted an archive, got nothing there"),
    ],
)
def test_errors_are_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture, args: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    done = ran(capsys, "archive", *args)
    assert (done.status, done.out) == (1, "")
    assert said in done.err
    assert done.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
