"""brake_confirmation_lost: it goes while the motor drives. Counted by hand; 0.05 s is common practice."""

from __future__ import annotations

import pytest

from tests.logs import Records, at, merged, run
from tests.patterns.helpers import found, reviewed, spans

NAME = "brake_confirmation_lost"
BRAKE = "hoist.brake.released"


def lost(start: float, back: float) -> Records:
    """A run from 10 to 20 s whose confirmation is gone in between."""
    return merged(run(10, 20), [(start, BRAKE, 0.0), (back, BRAKE, 1.0)])


def test_it_spans_the_time_without_confirmation() -> None:
    review = reviewed(lost(14, 14.6))
    assert spans(NAME, review) == [(at(14), at(14.6), "certain")]
    assert found(NAME, review).select("measured", "limit").rows() == [(0.6, 0.05)]
    assert review.findings["pattern"].to_list() == [NAME]


@pytest.mark.parametrize(
    ("gone", "expected"), [(0.03, []), (0.04, ["possible"]), (0.07, ["possible"]), (0.08, ["certain"])]
)
def test_both_sides_of_the_limit(gone: float, expected: list[str]) -> None:
    assert [span[2] for span in spans(NAME, reviewed(lost(14, 14 + gone)))] == expected


def test_one_that_stays_away_ends_with_the_run() -> None:
    review = reviewed(run(10, 20, brake=(10.15, 14)))
    assert spans(NAME, review) == [(at(14), at(20), "certain")]


def test_a_loss_that_ends_the_run_at_once_is_a_drop_out() -> None:
    review = reviewed(run(10, 14.2, command=(9.95, 16), brake=(10.15, 14)))
    assert review.findings["pattern"].to_list() == ["drop_out"]


@pytest.mark.parametrize("before", [0.02, 0.05])
def test_the_brake_may_set_just_before_the_contactor_opens(before: float) -> None:
    assert spans(NAME, reviewed(run(10, 20, command=(9.95, 21), brake=(10.15, 20 - before)))) == []


def test_a_drive_sets_the_brake_after_the_release_before_its_output_goes() -> None:
    assert spans(NAME, reviewed(run(10, 20, command=(9.95, 19.2), brake=(10.15, 19.6)))) == []


def test_a_brake_that_still_sets_after_a_quick_restart_is_no_loss() -> None:
    records = merged(run(8, 10, brake=(8.15, 10.3)), run(10.2, 15, brake=(10.6, 15.1)))
    assert spans(NAME, reviewed(records)) == []


def test_without_the_command_it_is_possible() -> None:
    records = [r for r in lost(14, 14.6) if "command" not in r[1]]
    carries = ("hoist.raise.contactor", "hoist.lower.contactor")
    assert [span[2] for span in spans(NAME, reviewed(records, carries))] == ["possible"]


def test_an_unknown_confirmation_is_no_loss() -> None:
    records = merged(run(10, 20), [(14.0, BRAKE, None), (14.6, BRAKE, 1.0)])
    assert spans(NAME, reviewed(records)) == []


def test_a_coarse_step_keeps_what_is_certain() -> None:
    assert spans(NAME, reviewed(lost(14, 14.08), step_s=0.04)) == []
    assert [span[2] for span in spans(NAME, reviewed(lost(14, 14.6), step_s=0.04))] == ["certain"]


def test_equal_stamps_in_inverted_order_are_none() -> None:
    assert spans(NAME, reviewed(lost(14, 14))) == []


def test_travel_brakes_count_where_they_are_logged() -> None:
    brake = "trolley.brake.released"
    records = merged(
        run(10, 20, "left", motion="trolley"),
        [(10.1, brake, 1.0), (14, brake, 0.0), (15, brake, 1.0), (20.1, brake, 0.0)],
    )
    assert found(NAME, reviewed(records))["motion"].to_list() == ["trolley"]
