"""verify says in one sentence what is wrong, and nothing where nothing is."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest

from eventlens import Archive
from eventlens.archive.lake import Lake
from eventlens.archive.tables import DUMPS, ENTRIES, RECORD
from eventlens.schema import Table
from tests.archive.stories import lines, parts

ROWS = [*lines()[:60], "not a row,hoist.raise.command,1", *lines()[60:]]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sound")
    archive = Archive(folder / "history")
    archive.add(parts(folder, ROWS, [260], 20), "DOCK-5", notes={"note": ["2026-04-01T08:00Z two crews"]})
    return folder / "history"


@pytest.fixture
def place(sound: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(sound, tmp_path / "history"))


def test_a_sound_archive_has_no_fault(place: Path) -> None:
    done = Archive(place).verify()
    assert (done.faults, done.notes) == ((), ())
    # by hand: 527 events of the night (test_adding) and one that says that a row is lost; that row, set aside;
    # two dumps, March and April
    assert (done.machines, done.dumps, done.months, done.events, done.set_aside) == (1, 2, 2, 528, 1)


def one_file(place: Path, pattern: str) -> Path:
    return sorted(place.glob(pattern))[0]


def rewrite(place: Path, table: Table, where: str, change: Callable[[pl.DataFrame], pl.DataFrame]) -> None:
    """Changes rows as the store itself would: what is wrong then is only what they say."""
    lake = Lake(place)
    at = lake.opened(table.name)
    lake.replace(at, where, change(lake.read(at, table, where)), "somebody")


APRIL = "month = '2026-04' AND kind = 'event'"
LEDGER = "month = '2026-04' AND kind = 'import'"
EVENTS_FILE = "record/machine=*/month=2026-04/kind=event/*.parquet"


def with_columns(**changed: pl.Expr) -> Callable[[pl.DataFrame], pl.DataFrame]:
    return lambda rows: rows.with_columns(**changed)


HARM: dict[str, Callable[[Path], None]] = {
    "bytes gone": lambda place: one_file(place, "dumps/machine=*/month=*/*.parquet").unlink(),
    "events gone": lambda place: one_file(place, EVENTS_FILE).unlink(),
    "ledger gone": lambda place: one_file(place, "record/machine=*/month=2026-04/kind=import/*.parquet").unlink(),
    "cut off": lambda place: os.truncate(one_file(place, EVENTS_FILE), 99),
    "event lost": lambda place: rewrite(place, RECORD, APRIL, lambda rows: rows.slice(1)),
    "event doubled": lambda place: rewrite(place, RECORD, APRIL, lambda rows: pl.concat([rows, rows.head(1)])),
    "event changed": lambda place: rewrite(place, RECORD, APRIL, with_columns(value=1 - pl.col("value"))),
    "order changed": lambda place: rewrite(place, RECORD, APRIL, with_columns(place=pl.col("place").reverse())),
    "row changed": lambda place: rewrite(place, RECORD, "kind = 'set_aside'", with_columns(reason=pl.lit("none"))),
    "count changed": lambda place: rewrite(place, RECORD, LEDGER, with_columns(taken=pl.col("taken") + 1)),
    "month lost": lambda place: rewrite(place, RECORD, LEDGER, pl.DataFrame.clear),
    "bytes changed": lambda place: rewrite(place, DUMPS, "true", with_columns(data=pl.col("data").bin.slice(0, 99))),
    "entry changed": lambda place: rewrite(place, ENTRIES, "true", with_columns(text=pl.lit("one crew"))),
}


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        ("bytes gone", r"The file dumps/machine=DOCK-5/month=2026-03/\S+ is missing\."),
        ("events gone", r"The file record/machine=DOCK-5/month=2026-04/kind=event/\S+ is missing\."),
        ("ledger gone", r"the ledger cannot be read: .*"),
        ("cut off", r"The file record/machine=DOCK-5/month=2026-04/kind=event/\S+ has 99 bytes, \d+ were written\."),
        ("event lost", r"DOCK-5 2026-04: the ledger says \d+ events of 'part1.csv', \d+ are there\."),
        ("event doubled", r"DOCK-5 2026-04: the ledger says \d+ events of 'part1.csv', \d+ are there\."),
        ("event changed", r"DOCK-5 2026-04: the events are not those of its dumps\."),
        ("order changed", r"DOCK-5 2026-04: the events are not those of its dumps\."),
        ("row changed", r"DOCK-5 2026-03: the rows set aside are not those of its dumps\."),
        ("count changed", r"DOCK-5 2026-04: of \d+ rows of 'part1.csv' the ledger accounts for \d+\."),
        ("month lost", r"DOCK-5: 'part1.csv' is in the ledger of other months than it has events in: 2026-04\."),
        ("month lost", r"DOCK-5 2026-04: \d+ rows are there that no entry of the ledger names\."),
        (
            "bytes changed",
            r"wanted the dump 'part\d.csv' of DOCK-5 as it was added .* got not all its bytes.*",
        ),
        ("entry changed", r"DOCK-5: the entry 'one crew' \(note\) was changed after it was written\."),
    ],
)
def test_a_fault_is_one_sentence(place: Path, harm: str, said: str) -> None:
    HARM[harm](place)
    faults = Archive(place).verify().faults
    assert any(re.fullmatch(said, fault) for fault in faults), faults
    assert all(fault.endswith(".") and "\n" not in fault for fault in faults)


def test_a_byte_that_fell_over_is_found_or_changes_nothing(place: Path) -> None:
    right, found = Archive(place).events("DOCK-5"), 0
    path = one_file(place, "record/machine=*/month=2026-04/kind=event/*.parquet")
    whole = path.read_bytes()
    for at in range(len(whole) // 8, len(whole), len(whole) // 4):
        path.write_bytes(bytes([*whole[:at], whole[at] ^ 1, *whole[at + 1 :]]))
        faults = Archive(place).verify().faults
        assert faults or Archive(place).events("DOCK-5").equals(right)
        found += bool(faults)
    assert found
    path.write_bytes(whole)
    assert Archive(place).verify().faults == ()


def test_bytes_of_a_dump_whose_adding_was_cut_off_are_no_fault_and_swept_never_while_needed(place: Path) -> None:
    lake = Lake(place)
    at = lake.opened("dumps")
    row = lake.read(at, DUMPS).head(1)
    lake.append(at, row.with_columns(file=pl.lit("0" * 64)))
    archive = Archive(place)
    done = archive.verify()
    assert done.faults == ()
    assert [note[:64] for note in done.notes] == ["The bytes of 1 dump lie there without an entry in the ledger: ad"]
    assert archive.sweep() == 0  # nothing is old enough
    assert archive.verify().faults == ()
