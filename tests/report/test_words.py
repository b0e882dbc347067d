"""Guards the words of the reports: one for each value of the tables, numbers and times without surprises."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from eventlens import schema
from eventlens.duty.groups import CONFIDENCES
from eventlens.reading.log import SourceFile
from eventlens.report import words


def test_every_value_of_the_tables_has_its_word() -> None:
    assert tuple(words.SEVERITY) == schema.SEVERITIES
    assert tuple(words.ENDING) == schema.ENDINGS
    assert tuple(words.WHY_NOT) == schema.NOT_ASSESSED_WHY
    assert tuple(words.CONFIDENCE) == CONFIDENCES


@pytest.mark.parametrize(
    ("seconds", "text"),
    [  # by the docstring: seconds to two minutes, minutes to two hours, then hours
        (0, "0 s"),
        (0.0125, "0.0125 s"),
        (119.4, "119 s"),
        (120, "120 s"),
        (121, "2.0 min"),
        (7199, "120.0 min"),
        (7200, "2.0 h"),
        (604_800, "168.0 h"),
    ],
)
def test_span(seconds: float, text: str) -> None:
    assert words.span(seconds) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (0.00594, "0.00594"), (1.0, "1"), (99.96, "100"), (1234567.0, "1234567"), (0.00001, "below 0.0001")],
)
def test_figure_has_three_places_and_no_exponent(value: float, text: str) -> None:
    assert words.figure(value) == text


def test_counted_and_listed() -> None:
    assert [words.counted(n, "jog") for n in (0, 1, 2)] == ["0 jogs", "1 jog", "2 jogs"]
    assert words.listed("abc", 3) == "a, b, c"
    assert words.listed("abcde", 3) == "a, b, c and 2 more"


def test_either_writes_the_directions_out() -> None:
    assert words.either("trolley.*.contactor") == "trolley.left/right.contactor"
    assert words.either("overload.trip") == "overload.trip"


def file(name: str, rows: int, first_row: int, first_line: int) -> SourceFile:
    return SourceFile(name, "0" * 64, rows, rows, 0, 0, rows, first_row, first_line)


@pytest.mark.parametrize(
    ("rows", "text"),
    [  # one file whose lines are the rows; a range takes one place of four
        ([7], "line 7"),
        ([7, 9], "lines 7, 9"),
        ([7, 8, 9, 20], "lines 7-9, 20"),
        ([2, 4, 6, 8, 10, 11], "lines 2, 4, 6, 8 and 2 more"),
    ],
)
def test_lines_of_one_file(rows: list[int], text: str) -> None:
    assert words.lines_of(rows, [file("a.csv", 50, 2, 2)]) == text


def test_lines_of_several_files_name_the_file_and_its_own_line() -> None:
    # rows 2..11 are lines 2..11 of the first; row 12 is the first data line of the second, which is its line 5
    files = [file("a.csv", 10, 2, 2), file("b.csv", 10, 12, 5)]
    assert words.lines_of([11, 12, 13], files) == "lines a.csv 11, b.csv 5-6"
    assert words.lines_of([13], files) == "line b.csv 6"


def test_clock_shows_the_offset_only_where_it_changes() -> None:
    winter = datetime(2026, 3, 28, 12, 0, 0, 750_000, tzinfo=UTC)
    assert words.Clock(ZoneInfo("Europe/Lisbon"), with_offset=False)(winter) == "2026-03-28 12:00:00"
    assert words.Clock(ZoneInfo("Europe/Lisbon"), with_offset=True)(winter) == "2026-03-28 12:00:00+00:00"
