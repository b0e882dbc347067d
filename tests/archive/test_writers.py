"""Two writers at once, SIGKILL at any moment, a full disk: no row lost, none doubled."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from eventlens import Archive
from eventlens.archive.faults import ConflictError
from tests.archive.stories import lines, parts, state, told, wanted, write
from tests.benchmarks.archive import storm

ROWS = lines()


def test_writers_that_are_killed_at_any_moment_lose_and_double_nothing(tmp_path: Path) -> None:
    done = storm(tmp_path, kills=3, seed=11, longest_s=0.7, machines=1)
    assert (done.kills, done.faults) == (3, [])
    # each round is judged with all events of the night: 3 + 80 x 6 + 11 x 4 by hand, see test_adding
    assert done.events == 527 * done.rounds


def test_writers_to_one_month_both_get_in(tmp_path: Path) -> None:
    files = parts(tmp_path, ROWS, [120, 240, 360], 30)
    place = tmp_path / "history"
    with ThreadPoolExecutor(4) as pool:  # each with an archive object, and so a state, of its own
        list(pool.map(lambda file: Archive(place).add(file, "DOCK-5"), files))
    archive, calm = Archive(place), Archive(tmp_path / "calm")
    calm.add(files, "DOCK-5")
    one, other = state(archive), state(calm)
    assert all(one[table].equals(other[table]) for table in one)
    assert archive.verify().faults == ()


@pytest.mark.parametrize("table", ["dumps", "entries"])
def test_a_table_that_another_writer_is_just_making_is_written_to_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, table: str
) -> None:
    """What the store says then: metadata changed since last commit. Nothing is lost and nothing is there twice."""
    (file,) = parts(tmp_path, ROWS, [], 0)
    archive, calm, lost = Archive(tmp_path / "history"), Archive(tmp_path / "calm"), []
    append = archive.lake.append

    def races(at: Any, rows: Any) -> None:
        if at.metadata().name == f"eventlens {table}" and not lost:
            lost.append(table)
            raise ConflictError("metadata changed since last commit")
        append(at, rows)

    monkeypatch.setattr(archive.lake, "append", races)
    for one in (archive, calm):
        one.add(file, "DOCK-5", notes={"note": ["2026-03-02T10:00 looked at"]})
    assert lost == [table]
    assert {name: found.height for name, found in state(archive).items()} == {
        name: found.height for name, found in state(calm).items()
    }
    assert archive.entries().height == 1
    assert archive.verify().faults == ()


CHILD = """
import resource, sys
from eventlens import Archive, ArchiveError
place, path, stage, limit = sys.argv[1:]
def told(now):
    if now == stage:
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), int(limit)))
try:
    told("at once")
    Archive(place).add(path, "DOCK-5", progress=told)
except ArchiveError as fault:
    print(fault)
    sys.exit(1)
"""


@pytest.mark.parametrize(
    ("stage", "room"), [("at once", 0), ("at once", 100), ("keeping the dumps", 500), ("writing", 0), ("writing", 2000)]
)
def test_a_full_disk_leaves_the_archive_as_it_was(tmp_path: Path, stage: str, room: int) -> None:
    """From a stage on the system refuses to write files above a size, as a full disk does (RLIMIT_FSIZE)."""
    first, second = parts(tmp_path, ROWS, [260], 20)
    archive = Archive(tmp_path / "history")
    archive.add(first, "DOCK-5")
    before = state(archive)
    command = [sys.executable, "-c", CHILD, str(tmp_path / "history"), str(second), stage, str(room)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 1, done.stderr
    assert "space" in done.stdout
    after = state(archive)
    assert all(before[table].equals(after[table]) for table in before)
    assert archive.verify().faults == ()
    archive.add(second, "DOCK-5")
    assert told(archive).equals(wanted([write(tmp_path / "whole.csv", ROWS)]))
