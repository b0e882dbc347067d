"""brake_release_late: the confirmation comes, but late. Numbers counted by hand; limit 0.5 s is common practice."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, Records, at, merged, run
from tests.patterns.helpers import found, limits, reviewed, spans, why

NAME = "brake_release_late"


def slow(release: float, motion: str = "hoist") -> Records:
    """A run from 10 to 15 s whose brake takes that long."""
    records = [r for r in run(10, 15, motion=motion) if "brake" not in r[1]]
    signal = f"{motion}.brake.released"
    return merged(records, [(10 + release, signal, 1.0), (15.1, signal, 0.0)])


def test_it_spans_contactor_to_confirmation() -> None:
    review = reviewed(slow(0.7))
    assert spans(NAME, review) == [(at(10), at(10.7), "certain")]
    assert found(NAME, review).select("measured", "limit", "direction").rows() == [(0.7, 0.5, "raise")]
    assert review.findings["pattern"].to_list() == [NAME]


@pytest.mark.parametrize(
    ("release", "expected"),
    [(0.48, []), (0.49, ["possible"]), (0.52, ["possible"]), (0.53, ["certain"])],
)
def test_both_sides_of_the_limit(release: float, expected: list[str]) -> None:
    assert [span[2] for span in spans(NAME, reviewed(slow(release)))] == expected


def test_the_limit_can_be_changed() -> None:
    assert spans(NAME, reviewed(slow(0.7), machine=limits(brake_release_s=0.8))) == []


def test_a_run_that_never_confirms_is_another() -> None:
    review = reviewed(run(10, 12, command=(9.9, 13), brake=(500, 500)))
    assert review.findings["pattern"].to_list() == ["brake_not_confirmed"]


def test_after_a_quick_restart_time_counts_from_the_moment_the_brake_had_set() -> None:
    # stop at 10, again at 10.2; the confirmation falls at 10.3 and comes 0.45 s later
    again = merged(run(8, 10, brake=(8.15, 10.3)), run(10.2, 15, brake=(10.75, 15.1)))
    assert spans(NAME, reviewed(again)) == []
    later = merged(run(8, 10, brake=(8.15, 10.3)), run(10.2, 15, brake=(10.9, 15.1)))
    assert found(NAME, reviewed(later))["measured"].to_list() == [0.6]


def test_what_rests_on_an_unknown_confirmation_is_at_most_possible() -> None:
    unknown = [(10.2, "hoist.brake.released", None)]
    assert spans(NAME, reviewed(merged(slow(0.7), unknown))) == []
    half = [(10.1, "hoist.brake.released", None), (10.12, "hoist.brake.released", 0.0)]
    assert spans(NAME, reviewed(merged(slow(0.7), half))) == [(at(10), at(10.7), "possible")]


def test_a_start_in_a_hole_is_none() -> None:
    states = [(10.2, name, float(name == "hoist.raise.contactor")) for name in HOIST]
    records = merged([r for r in slow(0.7) if r[0] >= 10.7], states)
    assert spans(NAME, reviewed(records, holes=[(9, 10.2)])) == []


def test_a_coarse_step_keeps_what_is_certain() -> None:
    assert why(NAME, reviewed(slow(0.55), step_s=0.04)) == [
        ("hoist", "not_resolvable", ["a log step of 0.033333 s or less"])
    ]
    assert spans(NAME, reviewed(slow(0.55), step_s=0.04)) == []
    assert [span[2] for span in spans(NAME, reviewed(slow(0.8), step_s=0.04))] == ["certain"]


def test_inverted_equal_stamps_are_no_late_brake() -> None:
    records = merged([(10.0, "hoist.brake.released", 1.0)], run(10, 15, brake=(0, 0)))
    assert spans(NAME, reviewed([*records, (15.1, "hoist.brake.released", 0.0)])) == []


def test_travel_brakes_count_where_they_are_logged() -> None:
    travel = [(t, name.replace("raise", "left"), v) for t, name, v in slow(0.7, "trolley")]
    assert found(NAME, reviewed(travel)).select("motion", "direction").rows() == [("trolley", "left")]
