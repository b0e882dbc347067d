"""Numbers with a decimal comma in tables whose cells are kept apart by something else: nothing needs to be stated.

Expected values and columns are written by hand beside each text.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from eventlens.reading import inspect
from eventlens.reading.assemble import raw_tables
from eventlens.reading.profile import Source
from tests.reading.reading_logs import history, profile, read_text, write

SPEED = "hoist.speed_m_per_min"


def stamp(second: int) -> str:
    return f"01.05.2024 06:00:{second:02}"


@pytest.mark.parametrize("mark", [";", "\t", "|", "; "])
@pytest.mark.parametrize(
    ("head", "rows"),
    [
        (["time", "tag", "value"], 1),
        (["time", "tag", "value"], 60),
        (["time, UTC", "tag, name", "value, m/min"], 1),
        (["time, UTC", "tag, name", "value, m/min"], 60),
        (None, 2),
        (None, 60),
    ],
)
def test_a_decimal_comma_in_every_row(mark: str, head: list[str] | None, rows: int, tmp_path: Path) -> None:
    lines = [mark.join((stamp(at), "SPD", f"1.250,{at}")) for at in range(rows)]
    text = "".join(line + "\n" for line in ([mark.join(head)] if head else []) + lines)
    raw = raw_tables(write(tmp_path, text))
    assert [[cell.strip() for cell in row] for row in raw.frame.iter_rows()] == [
        [stamp(at), "SPD", f"1.250,{at}"] for at in range(rows)
    ]
    assert raw.frame.columns == (head or ["column_1", "column_2", "column_3"])


def test_the_value_is_a_number_with_a_thousands_point(tmp_path: Path) -> None:
    text = f"time;tag;value\n{stamp(0)};SPD;1.250,5\n{stamp(1)};SPD;0,0\n"
    log = read_text(tmp_path, text)
    assert [value for _, _, value in history(log, SPEED)] == [1250.5, 0.0]
    found = inspect(write(tmp_path, text), profile())
    assert (found.delimiter, found.decimal) == (";", ",")


@pytest.mark.parametrize("columns", [1, 2, 4])
def test_a_column_for_each_signal(columns: int, tmp_path: Path) -> None:
    text = ";".join(["time", *(f"a{at}" for at in range(columns))]) + "\n"
    text += "".join(";".join([stamp(row), *(f"{at},{row}" for at in range(columns))]) + "\n" for row in range(30))
    raw = raw_tables(write(tmp_path, text))
    assert raw.frame.row(7) == (stamp(7), *(f"{at},7" for at in range(columns)))


@pytest.mark.parametrize("stated", [None, ";"])
@pytest.mark.parametrize("before", ["", "Device C-7\nExported\n\n", "Device, C-7\n\n"])
@pytest.mark.parametrize("mark", [";", ",", "\t"])
def test_names_that_are_kept_apart_by_another_mark(mark: str, before: str, stated: str | None, tmp_path: Path) -> None:
    text = before + mark.join(("time", "RUN", "SPD")) + "\n"
    text += "".join(f"{stamp(at)};{at % 2};{at},5\n" for at in range(20))
    log = read_text(tmp_path, text, delimiter=stated)
    assert log.signals() == {"hoist.raise.contactor", SPEED}
    assert history(log, SPEED)[3][2] == 3.5


def test_commas_that_do_keep_cells_apart(tmp_path: Path) -> None:
    text = "time,text,value\n" + "".join(f"{stamp(at)},a;b;c,{at % 2}\n" for at in range(20))
    assert raw_tables(write(tmp_path, text)).frame.row(1) == (stamp(1), "a;b;c", "1")


def test_a_line_of_prose_above_rows_without_names_is_no_header(tmp_path: Path) -> None:
    text = "Device C-7\n\nLog of machine\n" + "".join(f"{stamp(at)};SPD;{at},5\n" for at in range(20))
    raw = raw_tables(write(tmp_path, text))
    assert (raw.frame.columns, raw.frame.height) == (["column_1", "column_2", "column_3"], 20)


def test_units_written_with_a_comma_stay_in_their_names(tmp_path: Path) -> None:
    text = "time;SPD, actual\n" + "".join(f"{stamp(at)};{at},5\n" for at in range(20))
    log = read_text(tmp_path, text, {"SPD, actual": Source(signal=SPEED)})
    assert history(log, SPEED)[3][2] == 3.5
