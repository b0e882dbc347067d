"""Guards: a time of day that is not understood is said, never dropped; Spanish participles of came and gone."""

from __future__ import annotations

from pathlib import Path

import pytest

from eventlens import reading


def _notes(folder: Path, cells: tuple[str, str]) -> str:
    rows = "".join(f"18/05/2025|{cell}|hoist.raise.contactor|{at % 2}\n" for at, cell in enumerate(cells * 4))
    path = folder / "log.csv"
    path.write_text("Date|Heure|Signal|Value\n" + rows)
    return " ".join(reading.read(path).notes)


def test_a_time_of_day_that_is_not_understood_is_said(tmp_path: Path) -> None:
    notes = _notes(tmp_path, ("09~40~01", "09~40~02"))
    assert "hold the day only" in notes
    assert "'Heure'" in notes


def test_a_time_of_day_that_is_understood_needs_no_such_note(tmp_path: Path) -> None:
    assert "hold the day only" not in _notes(tmp_path, ("09:40:01", "09:40:02"))


@pytest.mark.parametrize(("came", "gone"), [("aparecido", "desaparecido"), ("Aparece", "Desaparece")])
def test_spanish_came_and_gone(tmp_path: Path, came: str, gone: str) -> None:
    path = tmp_path / "log.csv"
    path.write_text(f"Fecha;Mensaje;Estado\n18.05.2025 09:40:01;F1;{came}\n18.05.2025 09:40:04;F1;{gone}\n")
    profile = tmp_path / "profile.toml"
    profile.write_text('[log]\nlayout = "messages"\n[messages]\n"F1" = "overload.trip"\n')
    assert reading.read(path, profile).events["value"].to_list() == [1.0, 0.0]  # counted by hand
