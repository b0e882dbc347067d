"""contactor_stuck: the operator lets go and the contactor stays. Counted by hand; 1 s is common practice."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, at, merged, pulse, run
from tests.patterns.helpers import found, limits, reviewed, spans

NAME = "contactor_stuck"
FAST = "hoist.fast.contactor"


def test_it_spans_the_release_to_the_opening() -> None:
    review = reviewed(run(10, 18, command=(9.95, 15)))
    assert spans(NAME, review) == [(at(15), at(18), "certain")]
    assert found(NAME, review).select("measured", "direction", "signal").rows() == [
        (3.0, "raise", "hoist.raise.contactor")
    ]
    assert review.findings.select("pattern", "severity").rows() == [(NAME, "out_of_service")]


@pytest.mark.parametrize(
    ("after", "expected"), [(0.98, []), (0.99, ["possible"]), (1.02, ["possible"]), (1.03, ["certain"])]
)
def test_both_sides_of_the_limit(after: float, expected: list[str]) -> None:
    assert [s[2] for s in spans(NAME, reviewed(run(10, 15 + after, command=(9.95, 15))))] == expected


def test_one_contactor_over_further_presses_is_one() -> None:
    press = [(20.0, "hoist.raise.command", 1.0), (21.0, "hoist.raise.command", 0.0)]
    review = reviewed(merged(run(10, 30, command=(9.95, 15)), press))
    assert spans(NAME, review) == [(at(15), at(30), "certain")]
    assert found(NAME, review)["measured"].to_list() == [9.0]


def test_the_same_command_again_ends_the_wait() -> None:
    again = [(15.5, "hoist.raise.command", 1.0), (20.0, "hoist.raise.command", 0.0)]
    assert spans(NAME, reviewed(merged(run(10, 20.05, command=(9.95, 15)), again))) == []


def test_one_that_answers_a_press_that_is_already_over_is_stuck_and_one_long_after_is_not() -> None:
    assert spans(NAME, reviewed(run(10, 15, command=(9.8, 9.95)))) == [(at(10), at(15), "certain")]
    review = reviewed(run(10, 15, command=(8.5, 9)))
    assert review.findings["pattern"].to_list() == ["contactor_uncommanded"]


def test_an_unknown_state_and_a_hole_end_what_is_proven() -> None:
    stuck = run(10, 18, command=(9.95, 15))
    unknown = [(17.0, "hoist.raise.contactor", None)]
    assert spans(NAME, reviewed(merged(stuck, unknown))) == [(at(15), at(17), "certain")]
    assert spans(NAME, reviewed(merged(stuck, [(15.5, "hoist.raise.command", None)]))) == []
    states = [(16.0, name, float(name == "hoist.raise.contactor")) for name in HOIST]
    records = merged([r for r in stuck if r[0] <= 15], states, [(16.9, "hoist.raise.contactor", 0.0)])
    assert spans(NAME, reviewed(records, holes=[(15.8, 16)])) == []


def test_a_fast_output_that_stays_on_is_one_and_the_next_run_no_missing_delay() -> None:
    fast = pulse(FAST, (11, 40))
    records = merged(run(10, 15, fast_command=(10.5, 14)), fast, run(25, 30))
    review = reviewed(records)
    assert spans(NAME, review) == [(at(14.97), at(40), "certain")]
    assert found(NAME, review)["signal"].to_list() == [FAST]
    assert review.findings["pattern"].to_list() == [NAME]


def test_fast_that_outlasts_its_button_while_the_direction_is_held_is_none() -> None:
    assert spans(NAME, reviewed(run(10, 20, fast=(11, 20), fast_command=(10.5, 13)))) == []


def test_a_coarse_step_keeps_what_is_certain() -> None:
    assert spans(NAME, reviewed(run(10, 16.2, command=(9.8, 15)), step_s=0.2)) == []
    assert [s[2] for s in spans(NAME, reviewed(run(10, 18, command=(9.8, 15)), step_s=0.2))] == ["certain"]


def test_equal_stamps_are_none_and_the_limit_can_be_changed() -> None:
    assert spans(NAME, reviewed(run(10, 15, command=(9.95, 15)))) == []
    assert spans(NAME, reviewed(run(10, 18, command=(9.95, 15)), machine=limits(contactor_stuck_s=4))) == []


def test_other_motions() -> None:
    review = reviewed(run(10, 18, "left", motion="trolley", command=(9.95, 15)))
    assert found(NAME, review)["motion"].to_list() == ["trolley"]


@pytest.mark.parametrize(("step_s", "expected"), [(0.05, "certain"), (0.1, "possible")])
def test_pressed_again_it_may_open_and_close_between_two_records_of_a_coarse_log(step_s: float, expected: str) -> None:
    press = [(20.0, "hoist.raise.command", 1.0), (21.0, "hoist.raise.command", 0.0)]
    review = reviewed(merged(run(10, 30, command=(9.9, 15)), press), step_s=step_s)
    assert spans(NAME, review) == [(at(15), at(30), expected)]
    assert spans(NAME, reviewed(run(10, 30, command=(9.9, 15)), step_s=step_s)) == [(at(15), at(30), "certain")]


@pytest.mark.parametrize(("before", "expected"), [(0.0, [NAME]), (0.02, [NAME]), (0.6, [])])
def test_a_command_stamped_just_after_its_answer_is_still_what_asked_for_it(before: float, expected: list[str]) -> None:
    # the contactor is stamped so long before its command; two steps of 0.01 s are doubt, more is a contactor by itself
    review = reviewed(merged(pulse("hoist.raise.contactor", (10 - before, 18)), pulse("hoist.raise.command", (10, 15))))
    assert sorted({NAME} & set(review.findings["pattern"].to_list())) == expected
