"""fast_not_reached: fast asked for while running, and never given."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, Records, at, merged, run
from tests.patterns.helpers import found, reviewed, spans

SLOWDOWNS = (*HOIST, "hoist.raise.slowdown", "hoist.lower.slowdown")


def asked(start: float, end: float) -> Records:
    return [(start, "hoist.fast.command", 1.0), (end, "hoist.fast.command", 0.0)]


def test_it_spans_the_fast_command() -> None:
    records = merged(run(10, 16), asked(11, 14))
    assert spans("fast_not_reached", reviewed(records, SLOWDOWNS)) == [(at(11), at(14), "certain")]


def test_fast_that_comes_is_none() -> None:
    records = run(10, 16, fast=(11.4, 14), fast_command=(11, 14))
    assert spans("fast_not_reached", reviewed(records, SLOWDOWNS)) == []


@pytest.mark.parametrize(("held", "expected"), [(0.99, []), (1.01, ["possible"]), (1.02, ["certain"])])
def test_both_sides_of_the_time_it_must_be_held_while_running(held: float, expected: list[str]) -> None:
    records = merged(run(10, 16), asked(11, 11 + held))
    assert [span[2] for span in spans("fast_not_reached", reviewed(records, SLOWDOWNS))] == expected


def test_only_running_time_counts() -> None:
    records = merged(run(10, 10.8), asked(9, 14))
    assert spans("fast_not_reached", reviewed(records, SLOWDOWNS)) == []


def slow(start: float, signal: str = "hoist.raise.slowdown") -> Records:
    return [(start, signal, 1.0), (20.0, signal, 0.0)]


@pytest.mark.parametrize(("at_s", "explained"), [(5.0, True), (11.9, True), (12.0, False), (13.0, False)])
def test_the_slow_down_limit_explains_it_unless_fast_had_failed_before(at_s: float, explained: bool) -> None:
    """Fast is asked for at 11 s; a second later it has failed to come."""
    review = reviewed(merged(run(10, 16), asked(11, 14), slow(at_s)), SLOWDOWNS)
    assert (spans("fast_not_reached", review) == []) is explained


def test_the_slow_down_limit_of_the_other_direction_explains_nothing() -> None:
    records = merged(run(10, 16), asked(11, 14), slow(5.0, "hoist.lower.slowdown"))
    assert len(spans("fast_not_reached", reviewed(records, SLOWDOWNS))) == 1


def test_without_the_slow_down_limit_it_is_only_possible() -> None:
    assert spans("fast_not_reached", reviewed(merged(run(10, 16), asked(11, 14))))[0][2] == "possible"


def test_the_button_alone_at_rest_is_none() -> None:
    assert spans("fast_not_reached", reviewed(asked(11, 14), SLOWDOWNS)) == []


@pytest.mark.parametrize(("let_go", "expected"), [(10.9, []), (11.1, ["certain"])])
def test_a_contactor_that_outlasts_its_command_is_no_run_to_be_made_fast(let_go: float, expected: list[str]) -> None:
    # raised from 10 s, its contactor stays on to 16 s; fast is pressed from 11 to 14 s beside the other button
    other = [(10.95, "hoist.lower.command", 1.0), (14.0, "hoist.lower.command", 0.0)]
    records = merged(run(10, 16, command=(9.95, let_go)), other, asked(11, 14))
    assert [span[2] for span in spans("fast_not_reached", reviewed(records, SLOWDOWNS))] == expected


@pytest.mark.parametrize(("second_s", "expected"), [(0.9, []), (1.02, [1.02])])
def test_each_run_is_judged_by_itself(second_s: float, expected: list[float]) -> None:
    """Fast is held over two runs: in a short one it has no time to come, and 0.9 s twice is not 1.8 s."""
    records = merged(run(10, 10.9), run(12, 12 + second_s), asked(9.9, 13.5))
    review = reviewed(records, SLOWDOWNS)
    assert found("fast_not_reached", review)["measured"].to_list() == [pytest.approx(s) for s in expected]
