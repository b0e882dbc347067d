"""Badly formed files from a public set, read without any setting: held against their answers and against others."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from eventlens.reading import line_accounts, read_table, table_rows
from eventlens.reading.assemble import raw_tables
from eventlens.reading.tables import Names
from tests.benchmarks.damaged_tables import CONTESTED, READERS, answer, marks, scores

FOLDER = Path(__file__).parent.parent / "data" / "reading" / "damaged"
FILES = sorted((FOLDER / "csv").iterdir())
UNDECIDED = {
    "row_less_sep_row0_col1.csv": 9.3,
    "row_less_sep_row30_col4.csv": 9.9,
    "file_field_delimiter_0x20.csv": 9.9,
}
"""Two cells that run into each other cannot be told apart, nor a text with blanks between blanks in every row: such
lines are set aside. The marks follow from the cells that are lost (83 rows of 9)."""


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_damaged_file_gives_its_clean_table(path: Path) -> None:
    if path.name in CONTESTED:
        pytest.skip(CONTESTED[path.name])
    least = UNDECIDED.get(path.name, 9.99)
    assert marks(answer(FOLDER, path.name), READERS["eventlens"](path)) >= least


def test_a_table_without_names_loses_no_record() -> None:
    path = FOLDER / "csv" / "file_no_header.csv"
    records = [[cell or None for cell in row] for row in answer(FOLDER, path.name)]
    assert table_rows(path) == table_rows(path, names="found") == records
    found = read_table(path, names="found")
    assert found.columns == [f"column_{at}" for at in range(1, 10)]
    assert [list(row) for row in found.iter_rows()] == records
    assert read_table(path).columns == [cell or "" for cell in records[0]]


def test_names_that_stand_twice_are_joined_or_taken_once() -> None:
    names = read_table(FOLDER / "csv" / "source.csv").columns
    twice = FOLDER / "csv" / "file_header_multirow_2.csv"
    assert read_table(twice).columns == [f"{name} {name}" for name in names]
    assert read_table(twice, names="found").columns == names
    assert read_table(twice).rows() == read_table(twice, names="found").rows()


def test_rows_below_names_that_stand_again_are_rows() -> None:
    once = read_table(FOLDER / "csv" / "source.csv")
    twice = read_table(FOLDER / "csv" / "file_multitable_same.csv")
    assert twice.height == 165  # 167 lines of the file less two rows of names
    assert twice.rows()[: once.height] == once.rows()
    assert twice["DATE"].null_count() == 0


@pytest.mark.parametrize("names", ["first", "found"])
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_line_has_one_account(path: Path, names: Names) -> None:
    accounts = line_accounts(path, names)
    lines = path.read_text("utf-8").splitlines()  # the plain way
    assert accounts["line"].to_list() == list(range(1, len(lines) + 1))
    if not lines:
        return
    kinds, raw = Counter(accounts["kind"].to_list()), raw_tables(path)
    assert kinds["row"] == read_table(path, names).height
    assert (kinds["set aside"], kinds["blank"], kinds["joined"]) == (raw.rejected.height, raw.blank, len(raw.joined))
    assert accounts["reason"].null_count() == len(lines) - kinds["set aside"]


def test_ahead_of_general_readers() -> None:
    found = {name: sum(scores(FOLDER, READERS[name]).values()) for name in ("eventlens", "csv", "pandas", "duckdb")}
    assert max(found, key=lambda name: found[name]) == "eventlens", found
