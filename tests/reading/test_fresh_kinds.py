"""Guards: a time of day that is not understood is refused, never dropped; Spanish participles of came and gone."""

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


@pytest.mark.parametrize("cells", [("09~40~01", "09~40~02"), ("09.40.01.000", "09.40.02.000")])
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
    ],
)
def test_hours_minutes_seconds_with_their_letters(tmp_path: Path, cells: tuple[str, str]) -> None:
    _notes(tmp_path, cells)
    seconds = reading.read(tmp_path / "log.csv").events["time"].unique().sort()
    assert seconds.dt.hour().to_list() == [9, 9]
    assert seconds.dt.second().to_list() == [1, 2]


def test_a_time_of_day_that_is_understood_needs_no_such_note(tmp_path: Path) -> None:
    assert "hold the day only" not in _notes(tmp_path, ("09:40:01", "09:40:02"))


@pytest.mark.parametrize(("came", "gone"), [("aparecido", "desaparecido"), ("Aparece", "Desaparece")])
def test_spanish_came_and_gone(tmp_path: Path, came: str, gone: str) -> None:
    path = tmp_path / "log.csv"
    path.write_text(f"Fecha;Mensaje;Estado\n18.05.2025 09:40:01;F1;{came}\n18.05.2025 09:40:04;F1;{gone}\n")
    profile = tmp_path / "profile.toml"
    profile.write_text('[log]\nlayout = "messages"\n[messages]\n"F1" = "overload.trip"\n')
    assert reading.read(path, profile).events["value"].to_list() == [1.0, 0.0]  # counted by hand
