"""Guards: times of day with letters or points; one not understood is refused; came and gone in Spanish."""

from __future__ import annotations

from pathlib import Path

import pytest

from eventlens import reading
from eventlens.errors import ReadingError


def _notes(folder: Path, cells: tuple[str, str]) -> str:
    rows = "".join(f"18/05/2025|{cell}|hoist.raise.contactor|{at % 2}\n" for at, cell in enumerate(cells * 4))
    path = folder / "log.csv"
    path.write_text("Date|Heure|Signal|Value\n" + rows)
    return " ".join(reading.read(path).notes)


@pytest.mark.parametrize("cells", [("09~40~01", "09~40~02"), ("09.70.01.000", "09.70.02.000")])
def test_a_time_of_day_that_is_not_understood_is_refused(tmp_path: Path, cells: tuple[str, str]) -> None:
    """All stamps at midnight would be false instants; whoever wants days alone can say so."""
    with pytest.raises(ReadingError, match=r"a time of day in column 'Heure'.*state time = \"Date\""):
        _notes(tmp_path, cells)
    profile = tmp_path / "profile.toml"
    profile.write_text('[log]\ntime = "Date"\nname = "Signal"\nvalue = "Value"\n')
    assert reading.read(tmp_path / "log.csv", profile).events["time"].n_unique() == 1


@pytest.mark.parametrize(
    "cells",
    [
        ("09h40m01s", "09h40m02s"),
        ("09h40:01.000", "09h40:02.000"),
        ("09 h 40 min 01,000 s", "09 h 40 min 02,000 s"),
        ("9H40m01.25s", "9H40m02.25s"),
        ("09.40.01", "09.40.02"),
        ("9.40.01", "9.40.02"),
        ("09.40.01,000", "09.40.02,000"),
        ("09.40.01.000", "09.40.02.000"),
    ],
)
def test_hours_minutes_seconds_with_letters_or_points(tmp_path: Path, cells: tuple[str, str]) -> None:
    _notes(tmp_path, cells)
    seconds = reading.read(tmp_path / "log.csv").events["time"].unique().sort()
    assert seconds.dt.hour().to_list() == [9, 9]
    assert seconds.dt.second().to_list() == [1, 2]


@pytest.mark.parametrize(
    "rows",
    [
        "Date;Time\n12.04.26;06.05.04\n13.04.26;06.05.06\n",  # each cell could be a date of two-digit years
        "Uhrzeit;Datum\n06.05.04;12.04.2026\n06.05.06;13.04.2026\n",
        "Zeit;Datum\n06.05.04,000;2026-04-12\n06.05.06,000;2026-04-13\n",
    ],
)
def test_which_of_two_dotted_columns_is_the_time_of_day_is_told_by_its_name(tmp_path: Path, rows: str) -> None:
    header, *lines = rows.splitlines()
    path = tmp_path / "log.csv"
    path.write_text(f"{header};Signal;Value\n" + "".join(f"{line};hoist.raise.contactor;1\n" for line in lines))
    stamps = reading.read(path).events["time"].dt.to_string("%Y-%m-%d %H:%M:%S").to_list()
    assert stamps == ["2026-04-12 06:05:04", "2026-04-13 06:05:06"]


def test_a_time_of_day_with_points_alone(tmp_path: Path) -> None:
    path = tmp_path / "log_2026-04-12.csv"
    path.write_text("".join(f"06.05.0{at}.250;hoist.raise.contactor;{at % 2}\n" for at in range(4)))
    with pytest.raises(ReadingError, match="a column of time stamps"):  # without a name it may be an address
        reading.read(path)
    path.write_text("Time;Signal;Value\n" + path.read_text())
    stamps = reading.read(path).events["time"]
    assert stamps.dt.to_string("%Y-%m-%d %H:%M:%S%.3f").to_list()[:1] == ["2026-04-12 06:05:00.250"]


def test_a_column_of_addresses_beside_the_stamps_is_none(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    rows = "".join(f"10.20.30.140;2026-04-12;06:00:0{at};hoist.raise.contactor;{at % 2}\n" for at in range(6))
    path.write_text("Station;Day;Clock;Signal;Value\n" + rows)
    assert reading.read(path).events["time"].dt.hour().unique().to_list() == [6]


def test_a_time_of_day_that_is_understood_needs_no_such_note(tmp_path: Path) -> None:
    assert "hold the day only" not in _notes(tmp_path, ("09:40:01", "09:40:02"))


@pytest.mark.parametrize(("came", "gone"), [("aparecido", "desaparecido"), ("Aparece", "Desaparece")])
def test_spanish_came_and_gone(tmp_path: Path, came: str, gone: str) -> None:
    path = tmp_path / "log.csv"
    path.write_text(f"Fecha;Mensaje;Estado\n18.05.2025 09:40:01;F1;{came}\n18.05.2025 09:40:04;F1;{gone}\n")
    profile = tmp_path / "profile.toml"
    profile.write_text('[log]\nlayout = "messages"\n[messages]\n"F1" = "overload.trip"\n')
    assert reading.read(path, profile).events["value"].to_list() == [1.0, 0.0]  # counted by hand
