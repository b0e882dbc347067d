"""Hand entries and machine files: kept once each, with their time; what cannot be meant is said."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from eventlens import Archive, EventlensError
from tests.archive.stories import MACHINE, lines, machine_file, write


def test_entries_are_kept_once_in_the_zone_of_the_log(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "history")
    profile = tmp_path / "p.toml"
    profile.write_text('[log]\ntimezone = "Europe/Lisbon"\n')
    archive.add(write(tmp_path / "night.csv", lines(9)), "DOCK-5", profile)
    notes = {
        "repair": ["2026-04-14T10:00 relay of raise  exchanged", "2026-04-14T10:00+02:00 brake adjusted"],
        "check": ["2026-04-15 relay_seat=negative"],
    }
    assert archive.add((), "DOCK-5", notes=notes, who="foreman").entries == 3
    assert archive.add((), "DOCK-5", notes=notes, who="somebody else").entries == 0
    # Lisbon is an hour ahead of UTC in April
    assert archive.entries("DOCK-5").select("at", "kind", "text", "who").rows() == [
        (datetime(2026, 4, 14, 8, tzinfo=UTC), "repair", "brake adjusted", "foreman"),
        (datetime(2026, 4, 14, 9, tzinfo=UTC), "repair", "relay of raise exchanged", "foreman"),
        (datetime(2026, 4, 14, 23, tzinfo=UTC), "check", "relay_seat=negative", "foreman"),
    ]


def test_the_machine_file_given_last_holds(tmp_path: Path) -> None:
    archive, path = Archive(tmp_path / "history"), machine_file(tmp_path)
    night = write(tmp_path / "night.csv", lines(9))
    assert archive.add(night, path).entries == 1
    assert archive.add(night, path).entries == 0
    path.write_text(MACHINE.replace("M3", "M6"))
    assert archive.add((), path).entries == 1
    assert archive.review("DOCK-5").machine.machine.group == "M6"
    path.write_text(MACHINE)
    assert archive.add((), path).entries == 1
    assert archive.review("DOCK-5").machine.machine.group == "M3"


@pytest.mark.parametrize(
    ("kind", "text", "said"),
    [
        ("note", "2026-04-14", "wanted a time and a text for 'note', as '2026-04-14T10:00 two crews this week'"),
        ("note", "yesterday it rained", "wanted an instant as 2026-04-15 10:00, got 'yesterday'"),
        ("earlier_hours", "2026-04-14 many", "wanted hours as a number not below zero, as 310.5, got 'many'"),
        ("earlier_hours", "2026-04-14 -1", "wanted hours as a number not below zero, as 310.5, got '-1'"),
        ("earlier_hours", "2026-04-14 nan", "wanted hours as a number not below zero, as 310.5, got 'nan'"),
        ("shifts", "2026-04-14 6-14", "wanted 'shifts.0' as a shift as '06:00-14:00', got '6-14'"),
        ("check", "2026-04-14 relay_seet=negative", "did you mean 'relay_seat'?"),
        ("repairs", "2026-04-14 brake", "wanted a kind of entry, got 'repairs'; did you mean 'repair'?"),
    ],
)
def test_an_entry_that_cannot_be_meant(tmp_path: Path, kind: str, text: str, said: str) -> None:
    archive = Archive(tmp_path / "history")
    with pytest.raises(EventlensError) as fault:
        archive.add(write(tmp_path / "night.csv", lines(9)), "DOCK-5", notes={kind: [text]})
    assert said in str(fault.value)
    assert not (tmp_path / "history").exists()  # said before anything is written
