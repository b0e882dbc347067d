"""What there is to do: only what is missing or rests on something new, weeks that share a dump together."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

from eventlens import Archive, ArchiveError, EventlensError
from eventlens.archive.spans import months_in
from eventlens.archive.tables import REVIEWS
from eventlens.archive.weeks import put, row, stored
from eventlens.fleet.tasks import TOGETHER, Plan, planned
from tests.archive.stories import lines, write
from tests.fleet.stories import GOOD, MIXED, POISON, WEEKS, night


def todo(plan: Plan) -> list[tuple[str, str]]:
    return [(task.machine, one.period) for task in plan.tasks for one in task.wanted]


def test_all_is_missing_at_first_and_nothing_once_it_is_there(original: Path, one_by_one: Path) -> None:
    names = {**dict.fromkeys((*GOOD, MIXED), WEEKS), POISON: WEEKS[:1]}
    every = [(machine, week) for machine, weeks in names.items() for week in weeks]
    assert todo(planned(original)) == every
    assert todo(planned(one_by_one)) == []
    assert planned(one_by_one).wanted == planned(original).wanted == names
    assert todo(planned(original, machines=["KILN-2", "KILN-2"])) == [("KILN-2", week) for week in WEEKS]


def test_only_what_rests_on_something_new_is_done_again(place: Path, tmp_path: Path) -> None:
    archive = Archive(place)
    archive.bring_up_to_date("DOCK-5")
    archive.add(night(tmp_path / "more.csv", 9), "DOCK-5")  # 9 April: week 15
    assert todo(planned(place, machines=["DOCK-5"])) == [("DOCK-5", "2026-W15")]


def test_what_ended_as_an_error_is_done_again_when_asked(one_by_one: Path) -> None:
    assert todo(planned(one_by_one, retry=True)) == [(MIXED, "2026-W15")]


def test_weeks_without_log_any_more_are_stale(place: Path) -> None:
    archive = Archive(place)
    archive.bring_up_to_date("DOCK-5")
    lake = archive.lake
    known = stored(lake, "DOCK-5").row(0, named=True)
    one = planned(place, machines=["KILN-2"]).tasks[0].wanted[0]
    gone = row("DOCK-5", type(one)("2026-W01", one.start, one.end, [], known["key"]), None, "nothing")
    put(lake, lake.opened(REVIEWS.name), gone, {})
    assert planned(place).stale["DOCK-5"] == {"2026-W01"}


def test_weeks_of_one_dump_go_together_up_to_a_limit(tmp_path: Path) -> None:
    # seven nights, a week apart, in one dump: weeks 14 to 20 of 2026
    rows = [
        line.replace("2026-03-31", day).replace("2026-04-01", day)
        for day in ("2026-03-31", *(f"2026-04-{n:02}" for n in (7, 14, 21, 28)), "2026-05-05", "2026-05-12")
        for line in lines(3)
    ]
    Archive(tmp_path / "history").add(write(tmp_path / "long.csv", rows), "DOCK-5")
    parts = [[one.period for one in task.wanted] for task in planned(tmp_path / "history").tasks]
    assert [len(part) for part in parts] == [TOGETHER, 7 - TOGETHER]
    assert [week for part in parts for week in part] == [f"2026-W{n}" for n in range(14, 21)]
    first = planned(tmp_path / "history").tasks[0]
    assert str(first) == "DOCK-5 2026-W14 to 2026-W18"
    assert [str(task) for task in first.parts()][:2] == ["DOCK-5 2026-W14", "DOCK-5 2026-W15"]
    assert all(task.alone for task in first.parts())


def test_other_periods(original: Path) -> None:
    def asked(period: str) -> list[tuple[str, datetime | None, datetime | None]]:
        tasks = planned(original, period, ["DOCK-5"]).tasks
        return [(one.period, one.start, one.end) for task in tasks for one in task.wanted]

    march, april, may = (datetime(2026, month, 1, tzinfo=UTC) for month in (3, 4, 5))
    assert asked("month") == [("2026-03", march, april), ("2026-04", april, may)]
    assert asked("all") == [("all", None, None)]
    assert asked("2026-04-01..2026-05-01") == [("2026-04-01..2026-05-01", april, may)]
    assert asked("2026-04-01..") == [("2026-04-01..", april, None)]
    assert asked("..2026-03-01") == []


def test_months_are_those_of_the_zone() -> None:
    def months(first: str, last: str, zone: str) -> list[str]:
        at = [datetime.fromisoformat(text).replace(tzinfo=UTC) for text in (first, last)]
        rows = pl.DataFrame({"month": [first[:7]], "first": [at[0]], "last": [at[1]]})
        return list(months_in(rows, zone))

    # midnight in Lisbon comes an hour before that of UTC in summer, and with it in winter
    assert months("2026-06-30T23:30", "2026-06-30T23:40", "Europe/Lisbon") == ["2026-07"]
    assert months("2026-06-30T22:30", "2026-06-30T23:40", "Europe/Lisbon") == ["2026-06", "2026-07"]
    assert months("2026-01-31T23:30", "2026-01-31T23:40", "Europe/Lisbon") == ["2026-01"]
    # of a dump that goes on, the ledger has a row for each month; five hours behind, February begins in January
    assert months("2026-02-01T02:00", "2026-04-10T00:00", "America/Lima") == ["2026-01", "2026-02", "2026-03"]


@pytest.mark.parametrize(
    ("period", "said"),
    [
        ("weeks", "wanted week, month, all or FROM..TO as 2026-04-01..2026-05-01, got 'weeks'; did you mean 'week'?"),
        ("..", r"wanted week, month, all or FROM\.\.TO"),
        ("2026-05-01..2026-04-01", "wanted a period that ends after it begins, got 2026-05-01 to 2026-04-01"),
        ("soon..later", "wanted an instant as 2026-04-15 10:00, got 'soon'"),
    ],
)
def test_periods_that_cannot_be_meant(original: Path, period: str, said: str) -> None:
    with pytest.raises(EventlensError, match=said):
        planned(original, period)


def test_no_archive_and_no_such_machine(original: Path, tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match="wanted an archive, got nothing there"):
        planned(tmp_path / "nowhere")
    with pytest.raises(ArchiveError, match="did you mean 'DOCK-5'"):
        planned(original, machines=["DOCK-6"])
