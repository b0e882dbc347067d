"""What people wrote down counts in the review of the period: the dumps with the same statements give the same bytes."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

import eventlens
from eventlens import Archive, Review
from eventlens.archive import review_period
from eventlens.archive.entries import entry
from eventlens.archive.stated import HOLDS, counting
from eventlens.machine import load_machine
from eventlens.report import text
from eventlens.wiring import known_limits
from tests.archive.stories import BEGIN, lines, write

MACHINE = '[machine]\nid = "DOCK-5"\ngroup = "M3"\n[life]\nload_spectrum = "L2"\nused_before_h = 7.0\n'
ROWS = lines(40)  # four hours from 31 March 2026, 20:00 UTC, on


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("stated")
    machine = folder / "dock-5.toml"
    machine.write_text(MACHINE, "utf-8")
    return write(folder / "night.csv", ROWS), machine


def reviewed(files: tuple[Path, Path], tmp_path: Path, *period: str, **notes: list[str]) -> Review:
    """The review from an archive with these entries; it is that of the dump with the same statements."""
    archive = Archive(tmp_path / "history")
    archive.add(files[0], files[1], notes=notes)
    found = archive.review("DOCK-5", *period)
    log, plate = eventlens.read(files[0]), load_machine(files[1], known_limits())
    written = archive.entries("DOCK-5")
    assert found.to_json() == review_period(log, plate, *period, entries=written).to_json()
    return found


def counts(found: Review) -> list[tuple[str, str]]:
    return [(one.kind, one.counts) for one in found.history]


def test_without_entries_it_is_the_review_of_the_dumps(files: tuple[Path, Path], tmp_path: Path) -> None:
    assert reviewed(files, tmp_path).to_json() == eventlens.review(files[0], None, files[1]).to_json()


def test_earlier_hours_stand_for_those_of_the_machine_file(files: tuple[Path, Path], tmp_path: Path) -> None:
    found = reviewed(files, tmp_path, earlier_hours=["2026-01-01 99", "2026-03-01 310.5", "2026-05-01 400"])
    plain = eventlens.review(files[0], None, files[1]).life["hoist"].period
    stated = found.life["hoist"].period
    assert plain is not None
    assert stated is not None
    assert stated.in_log_h == plain.in_log_h
    assert (plain.used_h - plain.in_log_h, stated.used_h - stated.in_log_h) == pytest.approx((7.0, 310.5))
    assert [how for _, how in counts(found)] == [
        "another entry counts",
        "hours of full load before the log; what was used since the entry is not in it",
        "another entry counts",
    ]


def test_hours_that_were_read_within_the_log_hold_what_it_used_before(files: tuple[Path, Path], tmp_path: Path) -> None:
    found = reviewed(files, tmp_path, earlier_hours=["2026-03-31T22:00:00 310.5"])
    period = found.life["hoist"].period
    assert period is not None
    # 20 of 40 runs of equal length were over by then, but for those that drop out: each ninth runs 4 s instead of 9 s,
    # 0, 9 and 18 before, 27 and 36 after: 165 of 335 s
    assert period.used_h == pytest.approx(310.5 + period.in_log_h * (335 - 165) / 335)


def test_shifts_from_then_on(files: tuple[Path, Path], tmp_path: Path) -> None:
    sets = ["2026-01-01 06:00-14:00", "2026-03-31T20:30 20:00-04:00, 04:00-12:00", "2026-03-31T23:30 12:00-20:00"]
    found = reviewed(files, tmp_path, shifts=sets)
    assert found.shifts.times == ("20:00-04:00", "04:00-12:00")
    assert [how for _, how in counts(found)][1] == "these shifts are taken"
    early = reviewed(files, tmp_path / "early", "2026-03-31T20:00", "2026-03-31T20:30", shifts=sets)
    assert early.shifts.times == ("06:00-14:00",)
    assert len(early.history) == 1  # what begins after the period is not of it


def test_an_outcome_goes_into_the_causes(files: tuple[Path, Path], tmp_path: Path) -> None:
    found = reviewed(files, tmp_path, check=["2026-03-31T21:00 relay_seat=negative"])
    wanted = eventlens.review(files[0], None, files[1], checked=["relay_seat=negative"])
    assert json.loads(found.to_json())["causes"] == json.loads(wanted.to_json())["causes"]
    assert found.checked == wanted.checked
    cause = next(iter(wanted.checked))[1]
    assert counts(found) == [("check", f"counts for the cause {cause}")]
    more = found.with_checks(["relay_exchange=positive"])
    assert len(more.checked) == 2


def test_an_outcome_that_no_cause_asks_for_is_said(files: tuple[Path, Path], tmp_path: Path) -> None:
    found = reviewed(files, tmp_path, check=["2026-03-31T21:00 cooling=negative"])
    assert counts(found) == [("check", "counts for nothing here: no likely cause of this period asks for it")]
    assert found.checked == {}


def test_work_stands_in_the_history(files: tuple[Path, Path], tmp_path: Path) -> None:
    notes = {"repair": ["2026-01-01 x", "2026-02-01 y", "2026-03-31T21:00 brake adjusted", "2026-06-01 z"]}
    found = reviewed(files, tmp_path, "2026-03-31", "2026-04-02", **notes)
    assert [one.text for one in found.history] == ["y", "brake adjusted"]
    told = json.loads(found.to_json())["history"][1]
    assert datetime.fromisoformat(told.pop("at")) == BEGIN + timedelta(hours=1)
    assert told == {"kind": "repair", "text": "brake adjusted", "counts": None}
    assert "31 21:00:00 repair: brake adjusted" in text.render(found)
    plain = eventlens.review(files[0], None, files[1])
    assert found.findings.equals(plain.findings)


def entries_of(**notes: list[str]) -> pl.DataFrame:
    return pl.concat(
        entry("DOCK-5", kind, said, "UTC", "foreman", BEGIN) for kind, texts in notes.items() for said in texts
    )


@pytest.mark.parametrize(
    ("start_day", "work", "counted"),
    [
        (0, None, True),  # the period begins with the visit
        (HOLDS.days, None, True),
        (HOLDS.days + 1, None, False),  # too long ago
        (3, 3.5, True),  # the work comes after the period has begun
        (3, 2.5, False),  # it came before
        (3, -1.0, True),  # and before the visit it says nothing of what was checked
    ],
)
def test_how_long_an_outcome_holds(start_day: int, work: float | None, counted: bool) -> None:
    visit = BEGIN
    notes = {"check": [f"{visit.isoformat()} relay_seat=negative"]}
    if work is not None:
        notes["exchanged"] = [f"{(visit + timedelta(days=work)).isoformat()} relay"]
    found = counting(entries_of(**notes), visit + timedelta(days=start_day), visit + timedelta(days=start_day + 7))
    assert any(one.kind == "check" for one in found) == counted


def test_only_weeks_in_which_an_entry_counts_are_made_anew(files: tuple[Path, Path], tmp_path: Path) -> None:
    archive, made = Archive(tmp_path / "history"), []
    later = write(tmp_path / "later.csv", [line.replace("2026-03-31", "2026-04-15") for line in ROWS[:100]])
    archive.add([files[0], later], files[1])
    archive.bring_up_to_date()
    archive.add((), "DOCK-5", notes={"note": ["2026-04-15 two crews"], "repair": ["2026-06-01 brake"]})
    archive.bring_up_to_date(progress=made.append)
    assert made == ["reviewing DOCK-5 2026-W16"]
    assert "two crews" in archive.stored_review("DOCK-5", "2026-W16")
    made.clear()
    archive.add((), "DOCK-5", notes={"earlier_hours": ["2026-01-01 100"]})
    archive.bring_up_to_date(progress=made.append)
    assert len(made) == 2


def test_hours_written_down_and_the_weeks_since_make_what_trends_say(files: tuple[Path, Path], tmp_path: Path) -> None:
    archive = Archive(tmp_path / "history")
    again = write(tmp_path / "again.csv", [line.replace("2026-03-31", "2026-04-15") for line in ROWS[:200]])
    archive.add([files[0], again], files[1])
    weeks = archive.trends().life_weeks
    assert weeks["used_h"].to_list() == pytest.approx([7.0 + weeks["full_load_h"][0], 7.0 + weeks["full_load_h"].sum()])
    archive.add((), "DOCK-5", notes={"earlier_hours": ["2026-03-31T22:00 310.5", "2026-04-10 400"]})
    anew = archive.trends()
    first, second = anew.life_weeks["full_load_h"].to_list()
    assert anew.life_weeks["used_h"].to_list() == pytest.approx([310.5 + first * 170 / 335, 400 + second])
    assert anew.life["used_h"].to_list() == anew.life_weeks["used_h"].to_list()[1:]
