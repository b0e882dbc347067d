"""The review of an archive is byte for byte that of the dumps; of a period, of those dumps cut to it."""

from __future__ import annotations

import gzip
import os
import random
import shutil
from pathlib import Path

import pytest

import eventlens
from eventlens import Archive, ArchiveError, EventlensError
from eventlens.archive import review_period
from eventlens.machine import load_machine
from eventlens.wiring import known_limits
from tests.archive.stories import lines, machine_file, parts, write
from tests.cli.runner import Ran, ran

ROWS = lines()
PROFILE = """[log]
timezone = "Europe/Lisbon"
[signals]
"K1" = "hoist.raise.contactor"
"""


def named(rows: list[str]) -> list[str]:
    return [line.replace("hoist.raise.contactor", "K1") for line in rows]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Archive, list[Path], Path, Path]:
    """An archive of a night in four dumps that overlap, added one by one in another order; dumps, profile, machine."""
    tmp_path = tmp_path_factory.mktemp("kept")
    files = parts(tmp_path, named(ROWS), [130, 260, 390], 25)
    profile, machine = tmp_path / "dump.toml", machine_file(tmp_path)
    profile.write_text(PROFILE, "utf-8")
    archive = Archive(tmp_path / "history")
    for file in random.Random(3).sample(files, len(files)):
        archive.add(file, machine, profile)
    return archive, files, profile, machine


def copied(archive: Archive, folder: Path) -> Archive:
    """The same archive in another place: one that may be changed."""
    return Archive(shutil.copytree(archive.lake.root, folder / "copied"))


Kept = tuple[Archive, list[Path], Path, Path]


def test_all_of_it(kept: Kept) -> None:
    archive, files, profile, machine = kept
    wanted = eventlens.review(files, profile, machine).to_json()
    assert archive.review("DOCK-5").to_json() == wanted
    assert '"drop_out"' in wanted  # the night is worth reviewing
    assert archive.review().to_json() == archive.review(machine).to_json() == wanted


@pytest.mark.parametrize(
    ("start", "end", "dumps"),
    [
        # in Lisbon's summer time the night is 21:00 to 05:00; a dump holds two hours, 25 rows are half an hour
        ("2026-03-31T21:30", "2026-03-31T22:30", [0]),
        ("2026-04-01T00:10", "2026-04-01T03:30+01:00", [1, 2, 3]),
        (None, "2026-03-31T22:30", [0]),
        ("2026-04-01T04:00", None, [3]),
    ],
)
def test_a_period(kept: Kept, start: str | None, end: str | None, dumps: list[int]) -> None:
    archive, files, profile, machine = kept
    log = eventlens.read([files[number] for number in dumps], profile)
    wanted = review_period(log, load_machine(machine, known_limits()), start, end).to_json()
    assert archive.review("DOCK-5", start, end).to_json() == wanted


def test_a_period_that_holds_a_dump_is_the_review_of_the_dump(tmp_path: Path) -> None:
    night = write(tmp_path / "night.csv", ROWS)
    later = write(
        tmp_path / "later.csv",
        [line.replace("2026-03-31", "2026-04-07").replace("2026-04-01", "2026-04-08") for line in ROWS],
    )
    archive = Archive(tmp_path / "history")
    archive.add([later, night], machine_file(tmp_path))
    found = archive.review("DOCK-5", "2026-03-30", "2026-04-06")
    assert found.to_json() == eventlens.review(night, None, machine_file(tmp_path)).to_json()


def test_packed_dumps_and_stamps_that_need_the_date_of_the_file(tmp_path: Path) -> None:
    plain = tmp_path / "log.csv.gz"
    plain.write_bytes(gzip.compress("\n".join(["time,signal,value", *(line[11:] for line in ROWS[:200])]).encode()))
    os.utime(plain, (1_775_000_000, 1_775_000_000))
    archive = Archive(tmp_path / "history")
    archive.add(plain, machine_file(tmp_path))
    assert archive.review().to_json() == eventlens.review(plain, None, machine_file(tmp_path)).to_json()
    assert archive.verify().faults == ()


def test_the_command_gives_the_same_bytes(kept: Kept, capsys: pytest.CaptureFixture[str]) -> None:
    archive, files, profile, machine = kept
    period = ("--from", "2026-03-31T21:00", "--to", "2026-04-01T05:00")

    def asked(*args: str | Path) -> Ran:
        return ran(capsys, "review", *args, *period, "--json", "-")

    found = asked(archive.lake.root, "--machine", "DOCK-5")
    assert found.status == 0
    assert found == asked(*files, "--profile", profile, "--machine", machine)


def test_dumps_of_two_profiles_are_not_read_together(kept: Kept, tmp_path: Path) -> None:
    archive, machine = copied(kept[0], tmp_path), kept[3]
    archive.add(write(tmp_path / "bare.csv", ROWS[-30:]), machine)
    with pytest.raises(
        EventlensError, match=r"added with one profile, got 2: dump.toml, none; choose a shorter period"
    ):
        archive.review("DOCK-5")
    assert archive.review("DOCK-5", None, "2026-03-31T22:30").to_json()


@pytest.mark.parametrize(
    ("machine", "start", "end", "said"),
    [
        ("DOCK-6", None, None, "wanted a machine of the archive, got 'DOCK-6'; did you mean 'DOCK-5'?"),
        (
            "DOCK-5",
            "2026-05-01",
            None,
            "wanted a period with records, got none in it; choose one within 2026-03-31 21:0",
        ),
        ("DOCK-5", "2026-04-01", "2026-03-31", "wanted a period that ends after it begins"),
        ("DOCK-5", "soon", None, "wanted an instant as 2026-04-15 10:00, got 'soon'"),
    ],
)
def test_what_cannot_be_reviewed(kept: Kept, machine: str, start: str | None, end: str | None, said: str) -> None:
    with pytest.raises(EventlensError) as fault:
        kept[0].review(machine, start, end)
    assert said in str(fault.value)


def test_an_archive_of_several_machines_asks_which(kept: Kept, tmp_path: Path) -> None:
    archive = copied(kept[0], tmp_path)
    archive.add(write(tmp_path / "x.csv", ROWS), "KILN-2")
    with pytest.raises(
        ArchiveError, match=r"wanted one machine, got an archive of DOCK-5, KILN-2; choose with --machine"
    ):
        archive.review()
