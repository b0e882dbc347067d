"""The raw table of a delimited text: its first record names the columns, rows of names are one header, nothing is lost.

Expected names and rows are written by hand beside each text.
"""

from __future__ import annotations

import csv
from pathlib import Path

import polars as pl
import pytest

from eventlens.reading import inspect, line_accounts, read, read_table, table_rows, write_table
from tests.benchmarks.damaged_tables import by_eventlens, marks
from tests.reading.reading_logs import profile, write

RECORDS = [f"2024-05-13 06:00:0{second};{second % 2};0;" for second in range(4)]
"""Without names; on/off of two signals and a delimiter at the end."""
BELOW = "".join(record + "\n" for record in RECORDS)
CHANGES = "".join(f"2024-05-13 06:00:0{second};RUN;{second % 2}\n" for second in range(4))


@pytest.mark.parametrize(
    "text",
    [
        BELOW,
        "1;0;2\n2;0;4\n3;1;6\n",
        "1\n0\n1\n",
        "5\n",
        "2024-05-13 06:00:00;RUN;1\n",
        "2024-05-13 06:00:00;RUN;1\n" * 4,
        "0;0;;0;\n1;0;;0;\n0;1;1;0;0\n",
    ],
    ids=["states", "numbers", "one column", "one cell", "one record", "one record four times", "equal and empty"],
)
def test_a_first_record_that_is_no_name(text: str, tmp_path: Path) -> None:
    path = write(tmp_path, text)
    wanted = [line.split(";") for line in text.splitlines()]
    rows = [[cell or None for cell in row] for row in wanted]
    assert table_rows(path) == table_rows(path, "found") == rows
    assert [name.strip() for name in read_table(path).columns] == wanted[0]
    assert [list(row) for row in read_table(path).iter_rows()] == rows[1:]
    assert marks(wanted, by_eventlens(path)) == 10  # names that were made unique too
    found = read_table(path, "found")
    assert found.columns == [f"column_{at + 1}" for at in range(len(wanted[0]))]
    assert [list(row) for row in found.iter_rows()] == rows
    assert line_accounts(path)["kind"].to_list() == ["header"] + ["row"] * (len(rows) - 1)
    assert line_accounts(path, "found")["kind"].to_list() == ["row"] * len(rows)


@pytest.mark.parametrize(
    ("head", "joined", "kinds"),
    [
        ("Time;Up;Down;\n", ["Time", "Up", "Down", ""], ["header"]),
        ("Time;Up;Up;\n", ["Time", "Up", "Up ", ""], ["header"]),
        ("Time;Up;Down;\n" * 2, ["Time Time", "Up Up", "Down Down", ""], ["header"] * 2),
        ("Time;Up;Down;\n" * 3, ["Time Time Time", "Up Up Up", "Down Down Down", ""], ["header"] * 3),
        ("Time;Up;Down;\n;[V];[V];\n", ["Time", "Up [V]", "Down [V]", ""], ["header"] * 2),
        ("Zeit;Auf;Ab;\nTime;Up;Down;\n", ["Zeit Time", "Auf Up", "Ab Down", ""], ["header"] * 2),
        ("Time;Up;Down\n" * 2, ["Time Time", "Up Up", "Down Down", ""], ["header"] * 2),
        # a line above that does not name each column is no row of names
        ("Machine;North;;\nTime;Up;Down;\n", ["Time", "Up", "Down", ""], ["preamble", "header"]),
        # nor is one with a gap below it
        ("Zeit;Auf;Ab;\n\nTime;Up;Down;\n", ["Time", "Up", "Down", ""], ["preamble", "preamble", "header"]),
        ("Device log\n\nTime;Up;Down;\n", ["Time", "Up", "Down", ""], ["preamble", "preamble", "header"]),
        ("Device log\n\n", ["2024-05-13 06:00:00", "0", "0 ", ""], ["preamble", "preamble", "header"]),
    ],
)
def test_rows_of_names(head: str, joined: list[str], kinds: list[str], tmp_path: Path) -> None:
    path = write(tmp_path, head + BELOW)
    assert read_table(path).columns == joined
    accounts = line_accounts(path)["kind"].to_list()
    assert accounts[: len(kinds)] == kinds
    assert set(accounts[len(kinds) :]) == {"row"}
    assert read_table(path).height == accounts.count("row")


def test_what_is_found_takes_names_once(tmp_path: Path) -> None:
    found = read_table(write(tmp_path, "Time;Up;Down;\n" * 2 + ";[V];[V];\n" + BELOW), "found")
    assert found.columns == ["Time", "Up", "Down", "column_4"]
    assert found.height == 4


@pytest.mark.parametrize("at", [("2024-05-13", "06:00:00"), ("2024-05-13 06:00:00", "250")], ids=["day", "fraction"])
def test_rows_of_names_over_a_stamp_in_two_cells(at: tuple[str, str], tmp_path: Path) -> None:
    text = "".join(",".join((*at, "RUN", str(second % 2))) + "\n" for second in range(4))
    path = write(tmp_path, "Time,Tag,State\n" * 2 + text)
    assert read_table(path).columns == ["Time Time", "Tag Tag", "State State"]
    assert read_table(path).height == 4


def test_a_table_of_texts_begins_with_its_first_record(tmp_path: Path) -> None:
    """Words only above the first number: they may be records as well."""
    path = write(tmp_path, "Name;Place;Note\nDoor;North;ok\nGate;South;ok\nLift;East;5\nCar;West;ok\n")
    assert read_table(path).columns == ["Name", "Place", "Note"]
    assert read_table(path).height == 4


def test_nothing_but_blank_lines(tmp_path: Path) -> None:
    path = write(tmp_path, "\n\n")
    assert read_table(path).shape == (0, 0)
    assert table_rows(path) == []
    assert line_accounts(path)["kind"].to_list() == ["blank", "blank"]


@pytest.mark.parametrize(
    ("head", "first_lines"),
    [
        ("", ["2024-05-13 06:00:00;RUN;0", "2024-05-13 06:00:01;RUN;1"]),
        ("Time;Tag;State\n" * 2, ["Time;Tag;State", "2024-05-13 06:00:00;RUN;0"]),
    ],
    ids=["without names", "names twice"],
)
def test_a_written_table_is_read_like_its_file(head: str, first_lines: list[str], tmp_path: Path) -> None:
    path = write(tmp_path, head + CHANGES)
    written, columns = tmp_path / "written.csv", tmp_path / "written.parquet"
    write_table(path, written)
    with written.open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    assert lines[:2] == [line.split(";") for line in first_lines]
    assert read(written, profile()).events.drop("row").equals(read(path, profile()).events.drop("row"))
    assert read(path, profile()).events.height == 4  # no record of a review is taken for names
    assert (inspect(path).header_line is None) == (inspect(written).header_line is None) == (not head)
    write_table(path, columns)
    assert pl.read_parquet(columns).equals(read_table(path, "found"))


def test_an_empty_table_is_written(tmp_path: Path) -> None:
    write_table(write(tmp_path, ""), tmp_path / "written.csv")
    assert (tmp_path / "written.csv").read_bytes() == b""
