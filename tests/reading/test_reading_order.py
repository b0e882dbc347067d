"""Guards the order of the record: each rule from both sides."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
from reading_logs import history, profile, read_text, write

from eventlens.reading import read
from eventlens.reading.order import YEAR_US, newest_first, ring_start, settle

LATE = 2_000_000
H = "time;signal;value\n"


def micros(*seconds: float) -> pl.Series:
    return pl.Series([round(second * 1e6) for second in seconds], dtype=pl.Int64)


@pytest.mark.parametrize(
    ("seconds", "turned"),
    [
        ((3, 2, 1), True),
        ((3, 3, 1), True),
        ((1, 2, 3), False),
        ((2, 2, 2), False),
        ((5, 4, 3, 4), False),  # one of three steps rises
        ((*range(20, 9, -1), 11), True),  # one of eleven
        ((*range(20, 11, -1), 13), False),  # one of nine is more than a tenth
    ],
)
def test_newest_first(seconds: tuple[float, ...], turned: bool) -> None:
    assert newest_first(micros(*seconds)) is turned


@pytest.mark.parametrize(
    ("seconds", "first"),
    [
        ((100, 120, 0, 30, 50), 2),
        ((100, 120, 0, 30, 100), 2),  # last equal to the first
        ((100, 120, 0, 30, 101), 0),  # last after the first: the clock was set back
        ((100, 120, 0, 30, 10, 20), 0),  # two steps back
        ((100, 120, 118), 0),  # two seconds back: a late arrival
        ((121, 125, 118), 2),
    ],
)
def test_ring_buffer(seconds: tuple[float, ...], first: int) -> None:
    assert ring_start(micros(*seconds), LATE) == first
    assert ring_start(micros(*seconds), LATE, lambda: True) == 0  # a counter proves the order


@pytest.mark.parametrize(
    ("seconds", "want", "reordered", "steps"),
    [
        ((0, 10, 8), (0, 8, 10), 1, []),  # exactly the bound
        ((0, 10, 7.999999), (0, 10, 7.999999), 0, [2]),
        ((0, 10, 9, 8, 11), (0, 8, 9, 10, 11), 2, []),
        ((0, 100, 50, 52, 51), (0, 100, 50, 51, 52), 1, [2]),
        ((0, YEAR_US / 1e6), (0, YEAR_US / 1e6), 0, []),
        ((0, YEAR_US / 1e6 + 1), (0, YEAR_US / 1e6 + 1), 0, [1]),
    ],
)
def test_late_arrivals_and_clock_steps(
    seconds: tuple[float, ...], want: tuple[float, ...], reordered: int, steps: list[int]
) -> None:
    found = settle(micros(*seconds), LATE)
    assert found.time.to_list() == micros(*want).to_list()
    assert found.reordered == reordered
    assert found.steps.to_list() == steps


def test_the_bound_of_late_arrivals_is_the_profiles(tmp_path: Path) -> None:
    rows = H + "2024-05-13 06:00:10;RUN;1\n2024-05-13 06:00:20;RUN;0\n2024-05-13 06:00:15;RUN;1\n"
    assert read_text(tmp_path, rows).clock_steps.height == 1
    assert read_text(tmp_path, rows, late_s=5).reordered == 1


def test_a_slot_number_from_zero_proves_nothing_but_a_running_one_does(tmp_path: Path) -> None:
    rows = ("06:10:00;RUN;1", "06:10:20;RUN;0", "06:00:00;RUN;1", "06:00:30;RUN;0")
    for begin, steps in ((0, 0), (1, 0), (2, 1), (4711, 1)):
        text = "".join(f"{begin + at};2024-05-13 {row}\n" for at, row in enumerate(rows))
        assert read_text(tmp_path, "no;" + H + text).clock_steps.height == steps


def test_files_of_a_record_that_is_newest_first(tmp_path: Path) -> None:
    rows = [f"2024-05-13 06:00:{at:02};RUN;{at % 2}\n" for at in range(20, 0, -1)]
    whole = read(write(tmp_path, H + "".join(rows)), profile())
    paths = [write(tmp_path, H + "".join(rows[at : at + 5]), f"part{at}.csv") for at in (0, 5, 10, 15)]
    pieces = read(sorted(paths), profile())
    assert history(whole) == history(pieces)
    assert whole.events["row"].to_list() == pieces.events["row"].to_list() == list(range(21, 1, -1))


def test_a_later_file_may_have_its_columns_in_another_order(tmp_path: Path) -> None:
    one = write(tmp_path, H + "2024-05-13 06:00:00;RUN;1\n", "1.csv")
    other = write(tmp_path, "signal,value,time\nRUN,0,2024-05-13 06:00:05\n", "2.csv")
    log = read([one, other], profile())
    assert [value for _, _, value in history(log)] == [1, 0]
    assert [file.first_row for file in log.files] == [2, 3]
