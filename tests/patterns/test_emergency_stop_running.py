"""emergency_stop_running: the stop is operated while something runs; at rest it is none. Numbers counted by hand."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, Records, at, merged, run
from tests.patterns.helpers import found, reviewed, spans

NAME = "emergency_stop_running"


def stop(start: float, end: float) -> Records:
    return [(start, "stop.emergency", 1.0), (end, "stop.emergency", 0.0)]


def test_it_spans_the_stop_and_counts_the_motions() -> None:
    trolley = run(12, 20.02, "left", motion="trolley", command=(11.9, 21))
    review = reviewed(merged(run(10, 20.02, command=(9.9, 21)), trolley, stop(20, 40)))
    assert spans(NAME, review) == [(at(20), at(40), "certain")]
    assert found(NAME, review)["measured"].to_list() == [2.0]
    assert found(NAME, review)["signal"].to_list() == ["stop.emergency"]
    assert review.findings["pattern"].to_list() == [NAME]


def test_at_rest_it_is_none() -> None:
    assert spans(NAME, reviewed(merged(run(10, 19), stop(20, 40), run(50, 53)))) == []


@pytest.mark.parametrize(
    ("end", "certainty"), [(19.97, []), (19.98, ["possible"]), (20.02, ["possible"]), (20.03, ["certain"])]
)
def test_both_sides_of_the_runs_end(end: float, certainty: list[str]) -> None:
    """The button was let go before: two log steps of 0.01 s about the stop at 20."""
    records = merged(run(10, end, command=(9.9, 19.9)), stop(20, 40))
    assert [span[2] for span in spans(NAME, reviewed(records))] == certainty


@pytest.mark.parametrize(("held", "certainty"), [(20.02, "possible"), (20.03, "certain")])
def test_a_command_that_was_still_held_settles_it(held: float, certainty: str) -> None:
    records = merged(run(10, 20.01, command=(9.9, held)), stop(20, 40))
    assert [span[2] for span in spans(NAME, reviewed(records))] == [certainty]


@pytest.mark.parametrize(("start", "certainty"), [(19.97, ["certain"]), (19.99, ["possible"]), (20.01, [])])
def test_both_sides_of_the_runs_start(start: float, certainty: list[str]) -> None:
    records = merged(run(start, 20.05, command=(19.9, 21)), stop(20, 40))
    assert [span[2] for span in spans(NAME, reviewed(records))] == certainty


def test_at_a_coarse_step_it_is_possible_only() -> None:
    assert spans(NAME, reviewed(merged(run(10, 20, command=(9, 20)), stop(20, 40)), step_s=1.0))[0][2] == "possible"
    assert spans(NAME, reviewed(merged(run(10, 17, command=(9, 17)), stop(20, 40)), step_s=1.0)) == []


def test_equal_stamps_in_either_order_are_the_same() -> None:
    last = [(20.0, "hoist.raise.contactor", 0.0), (20.0, "stop.emergency", 1.0)]
    first = [r for r in run(10, 20, command=(9.9, 21)) if r[:2] != last[0][:2]]
    for order in (last, last[::-1]):
        records = merged(first, order, [(40.0, "stop.emergency", 0.0)])
        assert spans(NAME, reviewed(records)) == [(at(20), at(40), "certain")]


def test_a_stop_that_was_on_already_or_of_unknown_state_was_not_seen_to_go_on() -> None:
    for before in (1.0, None):
        records = merged(run(10, 20.02, command=(9.9, 21)), [(0, "stop.emergency", before), *stop(20, 40)])
        assert spans(NAME, reviewed(records)) == []


def test_a_hole_between_run_and_stop_is_not_bridged() -> None:
    records = merged([r for r in run(10, 20, command=(9.9, 21)) if r[0] < 15], stop(20.5, 40))
    states = [(20.2, name, 0.0) for name in HOIST]
    assert spans(NAME, reviewed(merged(records, states), holes=[(15, 20.2)])) == []


def test_a_stop_that_chatters_is_chatter() -> None:
    toggles = [record for n in range(4) for record in stop(20 + n * 0.2, 20.1 + n * 0.2)]
    review = reviewed(merged(run(10, 20.02, command=(9.9, 21)), toggles))
    assert review.findings["pattern"].to_list() == ["chatter"]


def test_the_summary_says_of_how_many() -> None:
    review = reviewed(merged(run(10, 20.05, command=(9.9, 21)), stop(20, 40), stop(60, 70)))
    assert "of 2 operations" in review.findings["summary"][0]
