"""Guards runs and rests that are too long, each limit from both sides (IEC 60034-1 S2; OSHA 29 CFR 1910.179(j)(4))."""

from __future__ import annotations

import pytest

from tests.logs import at, merged, run
from tests.patterns.helpers import found, reviewed, spans

DAY = 86400.0


@pytest.mark.parametrize(
    ("length", "certainty"), [(599.9, []), (600.0, ["possible"]), (600.02, ["possible"]), (600.03, ["certain"])]
)
def test_run_too_long(length: float, certainty: list[str]) -> None:
    review = reviewed(run(10, 10 + length, "lower"), step_s=0.01)
    assert [span[2] for span in spans("run_too_long", review)] == certainty


def test_a_run_that_the_log_cuts_counts_with_its_proven_length() -> None:
    review = reviewed([(10.0, "hoist.lower.contactor", 1.0)], end=1000.0)
    assert spans("run_too_long", review) == [(at(10), at(1000), "certain")]


@pytest.mark.parametrize(("days", "number"), [(29.99, 0), (30.01, 1)])
def test_idle_too_long(days: float, number: int) -> None:
    records = merged(run(10, 12), run(12 + days * DAY, 14 + days * DAY))
    review = reviewed(records, end=20 + days * DAY, rhythm_s=60.0)
    assert len(spans("idle_too_long", review)) == number
    if number:
        assert spans("idle_too_long", review) == [(at(12), at(12 + days * DAY), "certain")]
        assert found("idle_too_long", review)["measured"][0] == pytest.approx(days)


def test_rest_at_the_end_of_the_log_counts_and_a_hole_does_not() -> None:
    review = reviewed(run(10, 12), end=40 * DAY, rhythm_s=60.0)
    assert spans("idle_too_long", review) == [(at(12), at(40 * DAY), "certain")]
    holed = reviewed(merged(run(10, 12), run(40 * DAY, 40 * DAY + 2)), end=40 * DAY + 10, holes=[(100, 40 * DAY - 10)])
    assert spans("idle_too_long", holed) == []


def test_another_motion_at_work_is_no_rest() -> None:
    records = merged(run(10, 12), run(20 * DAY, 20 * DAY + 5, "left", motion="trolley"), run(35 * DAY, 35 * DAY + 2))
    carries = ("hoist.raise.contactor", "trolley.left.contactor")
    assert spans("idle_too_long", reviewed(records, carries=carries, end=36 * DAY, rhythm_s=60.0)) == []


def test_without_a_rhythm_silence_may_be_a_hole() -> None:
    records = merged(run(10, 12), run(31 * DAY, 31 * DAY + 2))
    assert [span[2] for span in spans("idle_too_long", reviewed(records, end=31 * DAY + 10))] == ["possible"]


@pytest.mark.parametrize(("step_s", "certainty"), [(0.1, "certain"), (0.2, "possible")])
def test_a_log_too_coarse_to_show_a_second_press_leaves_a_long_run_possible(step_s: float, certainty: str) -> None:
    review = reviewed(run(10, 700, "lower"), step_s=step_s)
    assert [span[2] for span in spans("run_too_long", review)] == [certainty]
