"""brake_apply_late: the confirmation falls late after a run. Numbers counted by hand; limits are common practice."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, at, merged, run
from tests.patterns.helpers import found, reviewed, spans, why

NAME = "brake_apply_late"


def test_it_spans_the_end_of_the_run_to_the_confirmations_fall() -> None:
    review = reviewed(run(10, 15, "lower", brake=(10.15, 15.9)))
    assert spans(NAME, review) == [(at(15), at(15.9), "certain")]
    assert found(NAME, review).select("measured", "limit", "direction").rows() == [(0.9, 0.5, "lower")]
    assert review.findings["pattern"].to_list() == [NAME]
    assert "after lowering" in review.findings["summary"][0]


@pytest.mark.parametrize(
    ("after", "expected"), [(0.48, []), (0.49, ["possible"]), (0.52, ["possible"]), (0.53, ["certain"])]
)
def test_both_sides_of_the_lower_limit(after: float, expected: list[str]) -> None:
    assert [span[2] for span in spans(NAME, reviewed(run(10, 15, brake=(10.15, 15 + after))))] == expected


@pytest.mark.parametrize(("after", "pattern"), [(2.0, NAME), (2.01, "brake_confirmed_at_rest")])
def test_longer_than_a_slow_brake_it_is_confirmed_at_rest_and_never_both(after: float, pattern: str) -> None:
    review = reviewed(run(10, 15, brake=(10.15, 15 + after)))
    assert review.findings["pattern"].to_list() == [pattern]


def test_a_run_that_begins_before_the_brake_sets_leaves_nothing_to_judge() -> None:
    review = reviewed(merged(run(10, 15, brake=(10.15, 18.1)), run(15.4, 18, "lower", brake=(500, 500))))
    assert spans(NAME, review) == []


def test_a_direction_that_is_not_logged_may_have_held_it() -> None:
    few = [name for name in HOIST if name != "hoist.lower.contactor" and name != "hoist.lower.command"]
    assert [s[2] for s in spans(NAME, reviewed(run(10, 15, brake=(10.15, 15.9)), few))] == ["possible"]


def test_commands_alone_say_nothing_of_the_motor() -> None:
    commands = ("hoist.raise.command", "hoist.lower.command", "hoist.brake.released")
    records = [r for r in run(10, 15, brake=(10.15, 16)) if "contactor" not in r[1]]
    assert spans(NAME, reviewed(records, commands)) == []


def test_an_unknown_confirmation_and_a_hole_prove_nothing() -> None:
    late = run(10, 15, brake=(10.15, 15.9))
    assert spans(NAME, reviewed(merged(late, [(15.4, "hoist.brake.released", None)]))) == []
    states = [(15.6, name, 0.0) for name in HOIST]
    assert spans(NAME, reviewed(merged([r for r in late if r[0] < 15.5], states), holes=[(15.2, 15.6)])) == []


def test_a_coarse_step_keeps_what_is_certain() -> None:
    assert spans(NAME, reviewed(run(10, 15, brake=(10.15, 15.6)), step_s=0.1)) == []
    sure = reviewed(run(10, 15, brake=(10.15, 15.9)), step_s=0.1)
    assert [span[2] for span in spans(NAME, sure)] == ["certain"]
    assert [row[1] for row in why(NAME, sure)] == ["not_resolvable"]


def test_inverted_equal_stamps_are_none() -> None:
    assert spans(NAME, reviewed(run(10, 15, brake=(10.15, 15)))) == []


def test_other_motions() -> None:
    records = run(10, 15, "left", motion="trolley")
    brake = [(10.1, "trolley.brake.released", 1.0), (15.9, "trolley.brake.released", 0.0)]
    carries = ("trolley.right.contactor",)
    assert found(NAME, reviewed(merged(records, brake), carries))["motion"].to_list() == ["trolley"]


def test_the_brake_sets_after_the_last_of_two_directions_that_were_on_at_once() -> None:
    # raise 10 to 15 s, lower 14 to 14.4 s within it: the confirmation at 15.1 s belongs to the end at 15 s
    nested = merged(run(10, 15, brake=(10.15, 15.1)), run(14, 14.4, "lower", brake=(500, 500)))
    assert spans(NAME, reviewed(nested)) == []
    late = merged(run(10, 15, brake=(10.15, 15.9)), run(14, 14.4, "lower", brake=(500, 500)))
    assert spans(NAME, reviewed(late)) == [(at(15), at(15.9), "certain")]
