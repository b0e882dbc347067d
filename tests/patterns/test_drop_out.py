"""drop_out: a held command and a contactor that opens by itself; its neighbours are explained or another pattern."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, at, merged, pulse, run
from tests.patterns.helpers import found, reviewed, spans, why


def test_it_spans_the_run_and_measures_from_the_release() -> None:
    review = reviewed(run(10, 10.8, command=(9.95, 12)))
    assert spans("drop_out", review) == [(at(10), at(10.8), "certain")]
    assert found("drop_out", review)["measured"].to_list() == [pytest.approx(0.65)]  # released at 10.15
    assert found("drop_out", review)["direction"].to_list() == ["raise"]


def test_letting_go_is_none() -> None:
    assert spans("drop_out", reviewed(run(10, 10.8))) == []


def test_a_late_drop_out_is_reported_too() -> None:
    review = reviewed(run(10, 16, command=(9.95, 18)))
    assert len(spans("drop_out", review)) == 1
    assert "0 within 1 s" in review.findings["summary"][0]


def test_a_run_without_confirmation_is_the_other_pattern() -> None:
    review = reviewed(run(10, 11, command=(9.95, 12), brake=(50, 50)))
    assert spans("drop_out", review) == []
    assert len(spans("brake_not_confirmed", review)) == 1


@pytest.mark.parametrize(("length", "pattern"), [(0.49, "drop_out"), (0.5, "brake_not_confirmed")])
def test_without_confirmation_the_release_limit_divides_the_two(length: float, pattern: str) -> None:
    review = reviewed(run(10, 10 + length, command=(9.95, 12), brake=(50, 50)))
    assert review.findings["pattern"].to_list() == [pattern]


def test_an_overload_that_cut_the_run_explains_it() -> None:
    records = merged(run(10, 15, command=(9.95, 18)), pulse("overload.trip", (14.97, 20)))
    assert spans("drop_out", reviewed(records)) == []


def test_without_the_devices_it_is_only_possible_and_asks_for_watching_not_repair() -> None:
    few = ("hoist.raise.command", "hoist.raise.contactor")
    review = reviewed([r for r in run(10, 11, command=(9.95, 12)) if "brake" not in r[1]], carries=few)
    assert spans("drop_out", review)[0][2] == "possible"
    assert review.findings["severity"].to_list() == ["watch"]


def test_contactors_alone_cannot_show_it() -> None:
    records = pulse("hoist.raise.contactor", (10, 11))
    assert why("drop_out", reviewed(records, carries=["hoist.raise.contactor"])) == [
        ("hoist", "missing_signal", ["hoist.*.command"])
    ]


def test_command_and_confirmation_show_it() -> None:
    records = merged(pulse("hoist.raise.command", (10, 14)), pulse("hoist.brake.released", (10.2, 11)))
    assert spans("drop_out", reviewed(records, carries=[])) == [(at(10), at(14), "possible")]


@pytest.mark.parametrize(("again", "certainty"), [(0.3, "possible"), (5.0, "certain")])
def test_a_button_let_go_and_pressed_again_between_two_records_looks_held(again: float, certainty: str) -> None:
    """At a step of 0.1 s a motor that starts again at once may have been told to; one that stays off was not."""
    quiet = ("hoist.lower.limit", "hoist.motor.hot", "stop.emergency", "supply.control")
    records = merged(
        run(10, 14, "lower", command=(9.9, 30)),
        [(14 + again, "hoist.lower.contactor", 1.0), (29.9, "hoist.lower.contactor", 0.0)],
        [(0.0, "supply.control", 1.0)],
    )
    review = reviewed(records, carries=(*HOIST, *quiet), step_s=0.1)
    assert spans("drop_out", review)[0][2] == certainty


@pytest.mark.parametrize(
    ("step", "certainty"), [(0.1, "certain"), (0.11, "possible"), (0.5, "possible"), (1.0, "possible")]
)
def test_a_step_coarser_than_a_hand_leaves_it_possible(step: float, certainty: str) -> None:
    """Both sides of hand_s = 0.1 s (from memory); the button is held for long and nothing starts again."""
    review = reviewed(run(10, 16, command=(8, 22)), step_s=step)
    assert [span[2] for span in spans("drop_out", review)] == [certainty]


@pytest.mark.parametrize(("dip", "count"), [(0.03, 1), (0.2, 0)])
def test_a_dip_of_the_command_just_before_it_is_a_contact_and_no_hand(dip: float, count: int) -> None:
    """The button's contact opens for 30 ms, faster than a hand; 0.2 s is a second press."""
    again = [(12.8, "hoist.raise.command", 0.0), (12.8 + dip, "hoist.raise.command", 1.0)]
    review = reviewed(merged(run(10, 13, command=(9.9, 15)), again))
    assert [span[2] for span in spans("drop_out", review)] == ["certain"] * count
