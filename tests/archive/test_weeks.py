"""Stored reviews: one for each ISO week, made anew only where something has changed."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

import eventlens
from eventlens import Archive, ArchiveError
from eventlens.archive.lake import SMALL_FILES
from eventlens.archive.spans import weeks_in
from eventlens.archive.tables import REVIEWS, TABLES, WEEKLY, fitted
from eventlens.schema import WEEK_TIMES, WEEKS, Table
from eventlens.trends import trends
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


def test_what_trends_need_is_kept_beside_the_reviews(tmp_path: Path) -> None:
    archive, machine = Archive(tmp_path / "history"), machine_file(tmp_path)
    night, other = write(tmp_path / "night.csv", ROWS), write(tmp_path / "later.csv", later(8))
    archive.add([night, other], machine)
    made: list[str] = []
    found = archive.trends(progress=made.append)
    assert made == ["reviewing DOCK-5 2026-W14", "reviewing DOCK-5 2026-W15"]
    wanted = trends([eventlens.review(path, None, machine) for path in (night, other)])
    assert found.to_json() == wanted.to_json()

    made.clear()
    assert archive.trends(["DOCK-5"], progress=made.append).to_json() == wanted.to_json()
    assert made == []
    archive.add(write(tmp_path / "more.csv", later(16)), "DOCK-5")
    assert archive.trends(progress=made.append).weeks == ("2026-W14", "2026-W15", "2026-W16")
    assert made == ["reviewing DOCK-5 2026-W16"]


def test_reviews_are_listed_and_read_one_by_one(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "history")
    night = write(tmp_path / "night.csv", ROWS)
    archive.add(night, machine_file(tmp_path))
    assert archive.stored_weeks().is_empty()
    with pytest.raises(ArchiveError, match="wanted a stored week of DOCK-5, got '2026-W14'; make them with"):
        archive.stored_review("DOCK-5", "2026-W14")
    archive.bring_up_to_date()
    assert archive.stored_weeks("DOCK-5").select("machine", "week", "why").rows() == [("DOCK-5", "2026-W14", None)]
    assert (
        archive.stored_review("DOCK-5", "2026-W14") == eventlens.review(night, None, machine_file(tmp_path)).to_json()
    )
    with pytest.raises(ArchiveError, match="did you mean '2026-W14'"):
        archive.stored_review("DOCK-5", "2026-W15")


def test_an_archive_without_weekly_results_opens_and_gets_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    older = Table("reviews", {n: c for n, c in REVIEWS.columns.items() if n not in WEEKLY}, REVIEWS.sort)
    archive = Archive(tmp_path / "history")
    night = write(tmp_path / "night.csv", ROWS)
    archive.add(night, "DOCK-5")
    with monkeypatch.context() as then:
        then.setitem(TABLES, "reviews", older)
        row = {"machine": "DOCK-5", "week": "2026-W14", "key": "an older one", "review": "{}"}
        at = archive.lake.made("reviews")
        archive.lake.append(at, fitted(pl.DataFrame([row]), older))
    assert archive.stored_review("DOCK-5", "2026-W14") == "{}"
    assert archive.trends().weeks == ("2026-W14",)
    assert archive.stored_review("DOCK-5", "2026-W14") == eventlens.review(night, None, None).to_json().replace(
        '"id": "machine"', '"id": "DOCK-5"'
    )


def test_weeks_that_cannot_be_reviewed_are_said(tmp_path: Path) -> None:
    archive, profile = Archive(tmp_path / "history"), tmp_path / "p.toml"
    profile.write_text('[log]\ntimezone = "UTC"\n')
    archive.add([write(tmp_path / "night.csv", ROWS), write(tmp_path / "later.csv", later(8))], "DOCK-5")
    archive.add(write(tmp_path / "more.csv", later(9)), "DOCK-5", profile)  # 8 April: week 15 too
    found = archive.trends()
    assert found.weeks == ("2026-W14",)
    assert any("DOCK-5 2026-W15: not reviewed, wanted dumps of the period that" in note for note in found.notes)
    with pytest.raises(ArchiveError, match="a week of DOCK-5 with a review, got 2026-W15: wanted dumps"):
        archive.stored_review("DOCK-5", "2026-W15")


@pytest.mark.parametrize(("table", "of"), [("weeks", WEEKS), ("week_times", WEEK_TIMES)])
def test_weekly_results_are_exported(tmp_path: Path, table: str, of: Table) -> None:
    archive = Archive(tmp_path / "history")
    archive.add(write(tmp_path / "night.csv", ROWS), "DOCK-5")
    archive.bring_up_to_date()
    for suffix, read in ((".parquet", pl.read_parquet), (".csv", pl.read_csv)):
        count = archive.export(tmp_path / f"out{suffix}", table)
        frame = read(tmp_path / f"out{suffix}")
        assert frame.columns == list(of.columns)
        assert frame.height == count > 0
    archive.export(tmp_path / "reviews.csv", "reviews")
    assert "counts" not in pl.read_csv(tmp_path / "reviews.csv").columns


def test_commits_hold_no_reviews(tmp_path: Path) -> None:
    """Least and greatest values of a column that holds reviews would be reviews: each opening would read them all."""
    archive = Archive(tmp_path / "history")
    archive.add(write(tmp_path / "night.csv", ROWS), "DOCK-5")
    archive.bring_up_to_date()
    review = archive.stored_review("DOCK-5", "2026-W14")
    commits = sorted((tmp_path / "history" / "reviews" / "_delta_log").glob("*.json"))
    assert len(commits) >= 2
    assert sum(commit.stat().st_size for commit in commits) < 20_000 < len(review)
    added = [action["add"] for line in commits[-1].read_text().splitlines() if "add" in (action := json.loads(line))]
    assert [set(json.loads(one["stats"])["minValues"]) for one in added] == [{"week"}]


def test_many_small_files_become_one(tmp_path: Path) -> None:
    archive, found = Archive(tmp_path / "history"), []
    archive.add(write(tmp_path / "night.csv", ROWS), "DOCK-5")
    for number in range(SMALL_FILES + 1):
        archive.add((), "DOCK-5", notes={"note": [f"2026-03-31T21:00 number {number}"]})
    for _ in range(2):
        found.append(archive.entries())
        before = len(archive.lake.opened("entries").file_uris())
        archive.lake.gather("entries", "DOCK-5")
    assert before == 1
    assert found[0].equals(found[1])
    assert archive.verify().faults == ()
