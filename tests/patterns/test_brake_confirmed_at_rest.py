"""brake_confirmed_at_rest: nothing drives and the brake says released. Counted by hand; 2 s is common practice."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, at, merged, pulse, run
from tests.patterns.helpers import found, reviewed, spans, why

NAME = "brake_confirmed_at_rest"
BRAKE = "hoist.brake.released"


def test_one_that_comes_on_at_rest_spans_the_signal() -> None:
    review = reviewed(pulse(BRAKE, (20, 30)))
    assert spans(NAME, review) == [(at(20), at(30), "certain")]
    assert found(NAME, review).select("measured", "signal").rows() == [(10.0, BRAKE)]
    assert review.findings.select("pattern", "severity").rows() == [(NAME, "out_of_service")]


@pytest.mark.parametrize(
    ("after", "expected"), [(2.0, []), (2.01, ["possible"]), (2.02, ["possible"]), (2.03, ["certain"])]
)
def test_both_sides_of_the_limit_after_a_run(after: float, expected: list[str]) -> None:
    assert [span[2] for span in spans(NAME, reviewed(run(10, 15, brake=(10.15, 15 + after))))] == expected


def test_one_that_is_stuck_over_many_runs_is_one_and_measures_the_longest_rest() -> None:
    runs = [run(t, t + 3, way, brake=(500, 500)) for t, way in ((10, "raise"), (20, "lower"), (24, "raise"))]
    review = reviewed(merged(*runs, pulse(BRAKE, (10.2, 60))))
    assert spans(NAME, review) == [(at(10.2), at(60), "certain")]
    assert found(NAME, review)["measured"].to_list() == [33.0]


def test_a_contactor_that_holds_the_motor_is_no_rest() -> None:
    assert spans(NAME, reviewed(run(10, 15, "lower", command=(9.9, 10.5)))) == []


def test_a_direction_whose_state_is_unknown_proves_no_rest() -> None:
    unknown = [(19.0, "hoist.lower.contactor", None)]
    assert spans(NAME, reviewed(merged(pulse(BRAKE, (20, 30)), unknown))) == []


def test_nothing_is_bridged_over_a_hole() -> None:
    states = [(23.0, name, float(name == BRAKE)) for name in HOIST]
    records = merged([(20.0, BRAKE, 1.0)], states, [(24.5, BRAKE, 0.0)])
    assert spans(NAME, reviewed(records, holes=[(21.5, 23)])) == []


def test_it_needs_both_directions() -> None:
    few = [name for name in HOIST if "lower" not in name]
    review = reviewed(pulse(BRAKE, (20, 30)), few)
    assert spans(NAME, review) == []
    assert why(NAME, review) == [("hoist", "missing_signal", ["hoist.lower.contactor"])]


def test_commands_will_do_where_only_those_are_logged() -> None:
    commands = ("hoist.raise.command", "hoist.lower.command")
    assert spans(NAME, reviewed(pulse(BRAKE, (20, 30)), commands)) == [(at(20), at(30), "certain")]


def test_a_coarse_step_makes_it_possible_and_inverted_stamps_make_none() -> None:
    assert [s[2] for s in spans(NAME, reviewed(pulse(BRAKE, (20, 23)), step_s=1.0))] == ["possible"]
    assert (
        spans(NAME, reviewed(merged([(10.0, BRAKE, 1.0)], run(10, 15, brake=(500, 500)), [(15.0, BRAKE, 0.0)]))) == []
    )


def test_travel_brakes_count_where_they_are_logged() -> None:
    carries = ("bridge.forward.contactor", "bridge.reverse.contactor")
    assert found(NAME, reviewed(pulse("bridge.brake.released", (20, 30)), carries))["motion"].to_list() == ["bridge"]


@pytest.mark.parametrize(("step", "certainty"), [(0.1, "certain"), (0.2, "possible")])
def test_a_step_that_hides_runs_leaves_it_possible(step: float, certainty: str) -> None:
    """Jogs may be shorter than the step: the brake was released for them."""
    records = merged(run(10, 12), pulse("hoist.brake.released", (20.0, 26.0)))
    review = reviewed([record for record in records if record[0] > 0], step_s=step)
    assert [span[2] for span in spans("brake_confirmed_at_rest", review)] == [certainty]


@pytest.mark.parametrize(("end", "expected"), [(17.0, []), (17.01, ["possible"]), (17.03, ["certain"])])
def test_a_brake_that_is_still_setting_when_the_log_ends_does_not_stand_open(end: float, expected: list[str]) -> None:
    """The run ends at 15 s; what the brake does after the log is not known. Both sides of 2 s, two log steps."""
    records = merged([r for r in run(10, 15) if r[1] != BRAKE], [(10.15, BRAKE, 1.0)])
    assert [span[2] for span in spans(NAME, reviewed(records, end=end))] == expected


@pytest.mark.parametrize(("pause", "expected"), [(1.9, []), (2.1, ["certain"])])
def test_a_brake_that_is_still_setting_when_the_next_run_begins_does_not_stand_open(
    pause: float, expected: list[str]
) -> None:
    records = merged(run(10, 15, brake=(10.15, 19)), run(15 + pause, 18.9, brake=(500, 500)))
    assert [span[2] for span in spans(NAME, reviewed(records))] == expected
