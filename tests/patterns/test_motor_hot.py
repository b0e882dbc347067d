"""motor_hot: each trip of a thermistor, with the starts of the hour before. Numbers counted by hand."""

from __future__ import annotations

import polars as pl
import pytest

from eventlens.machine import Machine
from tests.logs import HOIST, Records, at, merged, run
from tests.patterns.helpers import M5, found, limits, reviewed, spans

NAME = "motor_hot"


def hot(start: float, end: float, motion: str = "hoist") -> Records:
    return [(start, f"{motion}.motor.hot", 1.0), (end, f"{motion}.motor.hot", 0.0)]


def test_it_spans_the_signal_and_counts_the_starts_before() -> None:
    review = reviewed(merged(run(10, 70), run(100, 160), hot(200, 600), run(700, 710)))
    assert spans(NAME, review) == [(at(200), at(600), "certain")]
    assert found(NAME, review).select("measured", "signal", "motion").rows() == [(2.0, "hoist.motor.hot", "hoist")]
    assert "2 starts in the hour before, running 20 % of the ten minutes" in review.findings["summary"][0]


def test_a_motor_that_stays_cool_is_none() -> None:
    assert spans(NAME, reviewed(run(10, 70))) == []


@pytest.mark.parametrize(("trip", "starts"), [(3610.0, 1.0), (3610.01, 0.0)])
def test_both_sides_of_the_hour(trip: float, starts: float) -> None:
    assert found(NAME, reviewed(merged(run(10, 20), hot(trip, 3700))))["measured"].to_list() == [starts]


def test_it_belongs_to_the_motion_that_is_hot() -> None:
    review = reviewed(merged(run(10, 70), hot(80, 90, "trolley")))
    assert found(NAME, review).select("motion", "measured").rows() == [("trolley", 0.0)]


def test_one_that_is_hot_at_the_beginning_or_after_a_hole_was_not_seen_to_trip() -> None:
    assert spans(NAME, reviewed([(0, "hoist.motor.hot", 1.0), (50, "hoist.motor.hot", 0.0)])) == []
    after = [(40.0, name, float(name == "hoist.motor.hot")) for name in HOIST]
    assert spans(NAME, reviewed(after, holes=[(20, 40)])) == []
    assert spans(NAME, reviewed([(30.0, "hoist.motor.hot", None), (40.0, "hoist.motor.hot", 1.0)])) == []


def test_it_ends_where_its_state_is_no_longer_known() -> None:
    records = [(20.0, "hoist.motor.hot", 1.0), (30.0, "hoist.motor.hot", None)]
    assert spans(NAME, reviewed(records)) == [(at(20), at(30), "certain")]


def test_any_step_will_do() -> None:
    assert spans(NAME, reviewed(merged(run(10, 70), hot(200, 600)), step_s=1.0)) == [(at(200), at(600), "certain")]


def test_a_thermistor_that_chatters_is_chatter() -> None:
    toggles = [record for n in range(4) for record in hot(20 + n * 0.2, 20.1 + n * 0.2)]
    assert reviewed(toggles).findings["pattern"].to_list() == ["chatter"]


# What the model says: M5, 40 % and 240 starts an hour. Numbers by life.heat, which has its own oracle


def summary(records: Records, machine: Machine = M5, **more: float) -> str:
    review = reviewed(records, machine=machine, **more)
    return str(review.findings.filter(pl.col("pattern") == NAME)["summary"][0])


def test_hard_work_explains_it() -> None:
    # rated duty settles at 100 %; twice the running and twice the starts for two hours go well above
    work = [run(7.5 * n, 7.5 * n + 6) for n in range(1, 960)]
    said = summary(merged(*work, hot(7195, 7400)), end=8000.0)
    assert "% of it from starts), which explains it" in said
    assert "% or more of the level of rated duty" in said  # the log began less than three time constants before
    assert "a simple model, from memory" in said


def test_little_work_does_not() -> None:
    said = summary(merged(run(10, 70), run(100, 160), hot(200, 600)))
    assert "which does not explain it: look for a brake that drags" in said


def test_between_the_two_it_may() -> None:
    # settled at rated duty scaled to 85 %
    work = [run(15 / 0.85 * n, 15 / 0.85 * n + 6) for n in range(1, 1600)]
    said = summary(merged(*work, hot(28000, 28100)), end=28500.0)
    assert "which may explain it" in said
    assert "or more" not in said


def test_several_trips_are_told_apart() -> None:
    work = [run(7.5 * n, 7.5 * n + 6) for n in range(1, 960)]
    assert "explains 1 of 2, does not explain 1, may explain the others" in summary(
        merged(hot(5, 6), *work, hot(7195, 7400)), end=8000.0
    )


def test_the_limits_of_the_verdict_are_the_machine_files() -> None:
    records = merged(run(10, 70), run(100, 160), hot(200, 600))
    assert "which explains it" in summary(
        records, limits(motor_heat_explained_from=0.01, motor_heat_unexplained_below=0.0)
    )
    assert "which may explain it" in summary(records, limits(motor_heat_unexplained_below=0.0))


def test_without_a_group_it_says_what_would_help() -> None:
    said = summary(merged(run(10, 70), hot(200, 600)), Machine())
    assert "the motor's group in the machine file would let a model say" in said
