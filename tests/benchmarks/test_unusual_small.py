"""Guards the score of unusual hours in a small form: whose hours they are, and one machine's two weeks."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from eventlens.simulation import simulate
from tests.benchmarks.unusual import DAYS, STORY, Weeks, summary, visited, weeks, write


def test_the_hours_of_the_other_crew_are_those_of_its_shift() -> None:
    # the late shift of Wednesday 11 March 2026, 14 to 22 h: eight hours
    simulated = simulate(replace(STORY, habits={"cycles_per_h": 4.0}), seed=3, days=DAYS, step_s=0.1)
    begin = datetime(2026, 3, 11, 14, tzinfo=UTC)
    assert visited(simulated) == {begin + timedelta(hours=n) for n in range(8)}


def test_nobody_visits_a_machine_without_visits() -> None:
    found = weeks(0, visits=False)
    assert (found.visited, found.found) == (0, 0)


def test_a_visit_is_noticed() -> None:
    found = weeks(0)
    assert found.found >= 1
    assert found.wrong <= 1  # hours of the usual crew


def test_the_report_counts_hours_delay_and_alarms() -> None:
    # 26.1 machine-weeks are half a year: one alarm makes two for each machine and year
    half = 365.25 / 14
    lines = summary("visited", [Weeks(0, 8, 2, 1, half / 2, 1, 3.0), Weeks(1, 8, 0, 0, half / 2, 0, None)])
    assert lines[1].endswith("2 of 16 found (0.125)")
    assert lines[2].endswith("1 of 2")
    assert lines[3].endswith("noticed within the shift: 1 of 2, after 3.0 h (median; 3 to 3)")
    assert lines[4].endswith("1 (0.038 a week)")
    assert "false alarms: 2.00 for each machine and year (95 % limits 0.05 to 11.14)" in lines[5]  # Garwood: of one


def test_each_machine_is_a_row(tmp_path: Path) -> None:
    write(tmp_path / "u.csv", {"visited": [Weeks(0, 8, 2, 1, 2.0, 1, 3.0)], "never visited": [Weeks(1, 0, 0, 0, 2.0)]})
    assert (tmp_path / "u.csv").read_text().splitlines() == [
        "story,seed,visited,found,wrong,weeks,alarms,delay_h",
        "visited,0,8,2,1,2.0,1,3.0",
        "never visited,1,0,0,0,2.0,0,",
    ]
