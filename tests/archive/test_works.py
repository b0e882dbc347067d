"""A comparison of an archive is about the work that people wrote down: the latest, or the one that is chosen."""

from __future__ import annotations

from pathlib import Path

import pytest

import eventlens
from eventlens import Archive, EventlensError
from tests.archive.stories import lines, machine_file, write
from tests.cli.runner import ran

# eight hours from 31 March 2026, 20:00 UTC, on; each ninth of 80 runs drops out
REPAIR = "2026-04-01T00:00"


def kept(folder: Path, **notes: list[str]) -> Archive:
    archive = Archive(folder / "history")
    archive.add(write(folder / "night.csv", lines()), machine_file(folder), notes=notes)
    return archive


def test_the_latest_work_with_log_on_both_sides(tmp_path: Path) -> None:
    archive = kept(
        tmp_path,
        repair=[f"{REPAIR} brake adjusted", "2026-01-01 older than the log", "2026-06-01 not yet logged"],
        exchanged=[f"{REPAIR} relay of raise"],
    )
    found = archive.compare()
    wanted = eventlens.compare(tmp_path / "night.csv", None, machine_file(tmp_path), at=REPAIR)
    assert found.notes[0] == "the work is 2026-04-01 00:00 exchanged relay of raise; repair brake adjusted"
    assert found.notes[1:] == wanted.notes
    assert found.patterns.equals(wanted.patterns)
    assert found.at == wanted.at
    assert archive.compare("DOCK-5", at=REPAIR).to_json() == wanted.to_json()


def test_a_comparison_reaches_from_the_work_before_to_the_work_after(tmp_path: Path) -> None:
    archive = kept(tmp_path, repair=["2026-03-31T22:00 one", f"{REPAIR} two", "2026-04-01T02:00 three"])
    found = archive.compare(repair="2")
    assert [(side.log.start.hour, side.log.end.hour) for side in (found.before, found.after)] == [(22, 0), (0, 2)]
    assert found.notes[:4] == (
        "the work is 2026-04-01 00:00 repair two",
        "the log before it reaches from the work 2026-03-31 22:00 repair one",
        "the log after it reaches up to the work 2026-04-01 02:00 repair three",
        "written down with log on both sides are 1: 2026-04-01 02:00 repair three, 2: 2026-04-01 00:00 repair two, "
        "3: 2026-03-31 22:00 repair one (choose with --repair)",
    )
    assert archive.compare(repair="2026-03-31").at == archive.compare(repair="3").at
    assert archive.compare().at == archive.compare(repair="1").at


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept(tmp_path, repair=[f"{REPAIR} brake adjusted"])
    done = ran(capsys, "compare", tmp_path / "history", "--machine", "DOCK-5")
    assert (done.status, done.err) == (0, "")
    assert "2026-04-01 00:00 repair brake adjusted" in " ".join(done.out.split())
    dumps = ran(capsys, "compare", tmp_path / "night.csv", "--repair", "1")
    assert (dumps.status, "wanted an archive for --repair, got dumps" in dumps.err) == (1, True)
    both = ran(capsys, "compare", tmp_path / "history", "--after", tmp_path / "night.csv")
    assert (both.status, "wanted no --after for an archive" in both.err) == (1, True)


@pytest.mark.parametrize(
    ("written", "asked", "said"),
    [
        ([], {}, "wanted a repair or exchange of DOCK-5 in the archive, got none written down; write it down with"),
        (
            ["2026-06-01 brake"],
            {},
            r"both sides \(2026-03-31 20:00 to 2026-04-01 03:.*got '2026-06-01 00:00 repair brake' as the last; add",
        ),
        ([f"{REPAIR} x"], {"repair": "2"}, "got '2'; known are 1: 2026-04-01 00:00 repair x"),
        ([f"{REPAIR} x", "2026-04-01T01:00 y"], {"repair": "2026-04-01"}, "got '2026-04-01', which 2 are; known are 1"),
        ([f"{REPAIR} x"], {"repair": "1", "at": REPAIR}, "wanted the time of a repair, or one that is written down"),
    ],
)
def test_what_cannot_be_compared(tmp_path: Path, written: list[str], asked: dict[str, str], said: str) -> None:
    archive = kept(tmp_path, repair=written)
    with pytest.raises(EventlensError, match=said):
        archive.compare(**asked)
