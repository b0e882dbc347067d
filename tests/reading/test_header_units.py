"""Guards units in the names of measured columns: converted and said; unknown ones are said and not guessed."""

from __future__ import annotations

from pathlib import Path

import pytest

from eventlens.reading import read
from eventlens.reading.log import Log


def log_of(folder: Path, header: str, signal: str, cells: tuple[str, ...], extra: str = "") -> Log:
    rows = "".join(f"2026-03-02 06:00:{at:02};{at % 2};{cell}\n" for at, cell in enumerate(cells))
    (folder / "log.csv").write_text(f"Time;UP;{header}\n{rows}", "utf-8")
    (folder / "profile.toml").write_text(
        f'[signals]\n"UP" = "hoist.raise.command"\n"{header}" = {{ signal = "{signal}"{extra} }}\n', "utf-8"
    )
    return read(folder / "log.csv", folder / "profile.toml")


def values(log: Log) -> list[float]:
    events = log.events
    return events.filter(events["signal"].is_in(["load.kg", "hoist.height_m", "hoist.motor.current_a"]))[
        "value"
    ].to_list()


@pytest.mark.parametrize(
    ("header", "signal", "cells", "expected"),
    [
        ("Load [t]", "load.kg", ("1.5", "2.0"), [1500.0, 2000.0]),
        ("Last (t)", "load.kg", ("1,5", "2,0"), [1500.0, 2000.0]),
        ("Hubhöhe [mm]", "hoist.height_m", ("1500", "2000"), [1.5, 2.0]),
        ("Current / mA", "hoist.motor.current_a", ("1500", "2000"), [1.5, 2.0]),
        ("Hub in cm", "hoist.height_m", ("150", "200"), [1.5, 2.0]),
    ],
)
def test_units_in_names_are_converted_and_said(
    tmp_path: Path, header: str, signal: str, cells: tuple[str, ...], expected: list[float]
) -> None:
    log = log_of(tmp_path, header, signal, cells)
    assert values(log) == pytest.approx(expected)
    assert any(f"'{header}' is in" in note for note in log.notes)


def test_the_signals_own_unit_changes_nothing(tmp_path: Path) -> None:
    log = log_of(tmp_path, "Load [kg]", "load.kg", ("150", "200"))
    assert values(log) == [150.0, 200.0]
    assert not any("multiplied" in note for note in log.notes)


@pytest.mark.parametrize("unit", ["bar", "kN"])  # a force is no mass: what it weighs is for the profile to say
def test_a_unit_that_is_not_known_is_said_and_not_guessed(tmp_path: Path, unit: str) -> None:
    log = log_of(tmp_path, f"Load [{unit}]", "load.kg", ("150", "200"))
    assert values(log) == [150.0, 200.0]
    assert any(f"'{unit}' is not known for load.kg" in note for note in log.notes)


def test_cells_with_units_of_their_own_count(tmp_path: Path) -> None:
    assert values(log_of(tmp_path, "Load [t]", "load.kg", ("1500 kg", "2 t"))) == [1500.0, 2000.0]


def test_what_the_profile_states_counts(tmp_path: Path) -> None:
    assert values(log_of(tmp_path, "Load [t]", "load.kg", ("1.5", "2.0"), ", factor = 10")) == [15.0, 20.0]


def test_a_note_in_brackets_is_no_unit_of_a_switch(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("Time;UP [t]\n2026-03-02 06:00:00;0\n2026-03-02 06:00:01;1\n")
    (tmp_path / "profile.toml").write_text('[signals]\n"UP [t]" = "hoist.raise.command"\n')
    assert read(tmp_path / "log.csv", tmp_path / "profile.toml").events["value"].to_list() == [0.0, 1.0]
