"""Stored reviews: one for each ISO week, made anew only where something has changed."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import eventlens
from eventlens import Archive
from eventlens.archive.weeks import weeks_in
from tests.archive.stories import MACHINE, lines, machine_file, write

ROWS = lines(30)


def later(days: int) -> list[str]:
    """The same rows some days later; April has room for them."""
    return [
        line.replace("2026-03-31", f"2026-04-{days - 1:02}").replace("2026-04-01", f"2026-04-{days:02}")
        for line in ROWS
    ]


def test_only_weeks_with_something_new_are_reviewed(tmp_path: Path) -> None:
    archive, machine = Archive(tmp_path / "history"), machine_file(tmp_path)
    night = write(tmp_path / "night.csv", ROWS)  # Tuesday, 31 March 2026: week 14
    archive.add([night, write(tmp_path / "later.csv", later(8))], machine)  # 7 April: week 15
    made: list[str] = []
    first = archive.weeks(progress=made.append)
    assert made == ["reviewing DOCK-5 2026-W14", "reviewing DOCK-5 2026-W15"]
    assert first["week"].to_list() == ["2026-W14", "2026-W15"]
    assert first["review"][0] == eventlens.review(night, None, machine).to_json()

    made.clear()
    assert archive.weeks(progress=made.append).equals(first)
    assert made == []

    archive.add(write(tmp_path / "more.csv", later(16)), "DOCK-5")  # 15 April: week 16
    second = archive.weeks("DOCK-5", made.append)
    assert made == ["reviewing DOCK-5 2026-W16"]
    assert second.head(2).equals(first)

    made.clear()
    machine.write_text(MACHINE.replace("M3", "M6"))
    archive.add((), machine)
    third = archive.weeks(progress=made.append)
    assert len(made) == 3
    assert third["key"].is_in(second["key"].implode()).any() is False


def test_weeks_begin_on_monday_in_the_zone_of_the_log(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "history")
    archive.add(write(tmp_path / "night.csv", ROWS), "DOCK-5")
    rows = archive.imports()
    # 31 March 2026 is a Tuesday; Lisbon's summer time began on 29 March, so its Monday begins at 23:00 UTC
    assert weeks_in(rows, "Europe/Lisbon") == {
        "2026-W14": (datetime(2026, 3, 29, 23, tzinfo=UTC), datetime(2026, 4, 5, 23, tzinfo=UTC))
    }


def test_a_clock_that_was_not_set_makes_no_weeks_of_nothing(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "history")
    early = [line.replace("2026-03-31", "2000-01-01") for line in ROWS[:6]]
    archive.add(write(tmp_path / "night.csv", [*early, *ROWS]), "DOCK-5")
    assert len(weeks_in(archive.imports(), "UTC")) < 20  # and not 1370 from 2000 to 2026
