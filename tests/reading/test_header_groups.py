"""Guards names in two rows: groups above, as merged cells leave them, and names below; and rows above that are none."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
import xlsxwriter
from reading_logs import balanced, history, write

from eventlens.reading import inspect, read
from eventlens.reading.formats import read_raw
from eventlens.reading.formats._header import groups_above, names_of
from eventlens.reading.profile import LogKeys, Profile, Source

ROWS = "".join(f"2026-03-02 06:00:0{at};{at % 2};{at // 2 % 2};0\n" for at in range(8))
NAMES = ["Time", "Hoist Up", "Hoist Brake", "Trolley Left"]
STATED = Profile(
    LogKeys(time=("Time",)),
    {"Hoist Up": Source(signal="hoist.raise.contactor"), "Hoist Brake": Source(signal="hoist.brake.released")},
)


@pytest.mark.parametrize(
    "head",
    [
        "Time;Hoist;;Trolley\n;Up;Brake;Left\n",
        "Time;Hoist;Hoist;Trolley\n;Up;Brake;Left\n",
        "Log of one week\n\nTime;Hoist;;Trolley\n;Up;Brake;Left\n",
    ],
)
def test_the_name_of_the_group_comes_first(head: str, tmp_path: Path) -> None:
    path = write(tmp_path, head + ROWS)
    assert list(inspect(path).columns) == NAMES
    log = read(path, STATED)
    balanced(log)
    # 0 1 0 1 ... from second 0 on, counted by hand
    assert [value for _, _, value in history(log)] == [0.0, 1.0] * 4
    assert not any("before the table" in note for note in log.notes) or "Log of" in head


def test_equal_names_are_told_apart_by_their_groups(tmp_path: Path) -> None:
    path = write(tmp_path, ";Hoist;;Trolley\nTime;On;Brake;On\n" + ROWS)
    assert read_raw(path, Profile()).frame.columns == ["Time", "Hoist On", "Hoist Brake", "Trolley On"]


@pytest.mark.parametrize(
    ("above", "names"),
    [
        (["Machine", "SAW-3", "", ""], ["Time", "K1", "K2", "K3"]),  # names that lack nothing
        (["Machine", "SAW-3"], ["Time", "K1", "K2", ""]),  # a delimiter at the end of the lines
        (["Machine"], ["Time", "K1", "K1", "K2"]),  # one name is no row of groups
        (["Time", "Hoist", "", "Trolley"], ["", "", "Brake", "Left"]),  # a gap that would stand for both names
        (["Time", "2026-03-02", "", "x"], ["", "Up", "Brake", "Left"]),
        (["Time", "Hoist", "", ""], ["", "Up", "Up", "Left"]),  # they would still be equal
        (["Time", "Hoist", "", "", "x"], ["", "Up", "Brake", "Left"]),  # of another table
    ],
)
def test_what_is_no_row_of_groups(above: list[str], names: list[str]) -> None:
    expected = [] if names[:2] != ["", ""] else ["Time", "Hoist", "", "Trolley"]
    assert groups_above([above, names], 1) == expected
    assert names_of([above, names], 1) == (names if not expected else ["Time", "Hoist", "Brake", "Trolley Left"])


def test_the_next_part_has_the_same_two_rows_or_none(tmp_path: Path) -> None:
    head = "Time;Hoist;;Trolley\n;Up;Brake;Left\n"
    lines = ROWS.splitlines(keepends=True)
    first = write(tmp_path, head + "".join(lines[:4]))
    again = write(tmp_path, head + "".join(lines[4:]), "again.csv")
    bare = write(tmp_path, "".join(lines[4:]), "bare.csv")
    whole = read(write(tmp_path, head + ROWS, "whole.csv"), STATED)
    for second in (again, bare):
        log = read([first, second], STATED)
        balanced(log)
        assert history(log) == history(whole)
        assert log.rejected.is_empty()


def test_merged_cells_of_a_sheet(tmp_path: Path) -> None:
    sink = io.BytesIO()
    book = xlsxwriter.Workbook(sink, {"in_memory": True})
    sheet = book.add_worksheet("Log")
    sheet.write(0, 0, "Time")
    sheet.merge_range(0, 1, 0, 2, "Hoist")
    sheet.write(0, 3, "Trolley")
    sheet.write_row(1, 1, ["Up", "Brake", "Left"])
    for at, line in enumerate(ROWS.splitlines(), 2):
        stamp, *cells = line.split(";")
        sheet.write_row(at, 0, [stamp, *map(int, cells)])
    book.close()
    path = write(tmp_path, sink.getvalue(), "log.xlsx")
    assert list(inspect(path).columns) == NAMES
    log = read(path, STATED)
    balanced(log)
    assert log.start is not None
    assert [value for _, _, value in history(log)] == [0.0, 1.0] * 4


def test_the_written_profile_reads_the_log_as_it_was_inspected(tmp_path: Path) -> None:
    path = write(tmp_path, "Time;Hoist;;Trolley\n;Up command;Brake released;Left command\n" + ROWS)
    target = tmp_path / "profile.toml"
    target.write_text(inspect(path).to_profile())
    assert read(path, target).names["name"].to_list() == [
        "Hoist Brake released", "Hoist Up command", "Trolley Left command",
    ]  # fmt: skip
