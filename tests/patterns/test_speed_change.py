"""speed_change_missing and speed_change_short: judged on the fast output, never on the button."""

from __future__ import annotations

import pytest

from tests.logs import Records, at, merged, pulse, run
from tests.patterns.helpers import limits, reviewed, spans, why


def stepped(delay: float, begin: float = 10.0) -> Records:
    return run(begin, begin + 4, fast=(begin + delay, begin + 3.5))


def patterns_of(records: Records, **options: float) -> list[tuple[str, str]]:
    review = reviewed(records, **options)  # type: ignore[arg-type]
    own = review.occurrences.filter(review.occurrences["pattern"].str.starts_with("speed_change"))
    return own.select("pattern", "certainty").rows()  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("delay", "expected"),
    [
        # limits: missing up to 0.10 s, short below 0.75 x 0.40 s = 0.30 s; uncertainty 0.02 s
        (0.0, [("speed_change_missing", "certain")]),
        (0.08, [("speed_change_missing", "certain")]),
        (0.09, [("speed_change_missing", "possible")]),
        (0.10, [("speed_change_missing", "possible")]),
        (0.11, [("speed_change_short", "possible")]),
        (0.12, [("speed_change_short", "certain")]),
        (0.27, [("speed_change_short", "certain")]),
        (0.28, [("speed_change_short", "possible")]),
        (0.31, [("speed_change_short", "possible")]),
        (0.32, []),
        (0.40, []),
    ],
)
def test_each_limit_from_both_sides(delay: float, expected: list[tuple[str, str]]) -> None:
    assert patterns_of(stepped(delay)) == expected


def test_it_spans_from_the_contactor_to_the_fast_output() -> None:
    assert spans("speed_change_missing", reviewed(stepped(0.05))) == [(at(10), at(10.05), "certain")]
    assert spans("speed_change_short", reviewed(stepped(0.2))) == [(at(10), at(10.2), "certain")]


def test_fast_that_is_on_before_the_contactor_has_no_slow_step() -> None:
    records = merged(pulse("hoist.raise.contactor", (10, 13)), pulse("hoist.fast.contactor", (9.5, 12)))
    asked = merged(records, pulse("hoist.fast.command", (9.4, 12)))
    assert patterns_of(asked) == [("speed_change_missing", "certain")]
    # a fast output that came by itself before the run says nothing of the timer
    assert patterns_of(records) == []


@pytest.mark.parametrize(("motion", "way"), [("trolley", "left"), ("bridge", "reverse")])
def test_travel_is_judged_by_its_own_runs(motion: str, way: str) -> None:
    for delay, name in ((0.05, "speed_change_missing"), (0.2, "speed_change_short")):
        review = reviewed(run(10, 15, way, motion=motion, fast=(10 + delay, 14), fast_command=(9.95, 14)))
        assert review.findings.select("pattern", "motion").rows() == [(name, motion)]
    in_vain = reviewed(run(10, 15, way, motion=motion, fast_command=(9.95, 14)), [f"{motion}.fast.contactor"])
    assert in_vain.findings.select("pattern", "motion").rows() == [("fast_not_reached", motion)]
    jogs = merged(*(run(t, t + 0.5, way, motion=motion) for t in (10, 11, 12)))
    assert reviewed(jogs).findings.select("pattern", "motion").rows() == [("jogging", motion)]


def test_the_button_is_not_judged() -> None:
    records = run(10, 14, fast=(10.4, 13.5), fast_command=(9.95, 13.5))
    assert patterns_of(records) == []


def test_a_second_step_up_in_the_same_run_is_not_a_start() -> None:
    records = merged(pulse("hoist.raise.contactor", (10, 15)), pulse("hoist.fast.contactor", (10.4, 12), (12.05, 14)))
    assert patterns_of(records) == []


def test_the_setting_of_the_timer_moves_the_limit() -> None:
    assert patterns_of(stepped(0.5)) == []
    review = reviewed(stepped(0.5), machine=limits(speed_change_delay_s=1.0))
    assert len(spans("speed_change_short", review)) == 1


def test_it_needs_the_output() -> None:
    review = reviewed(pulse("hoist.raise.contactor", (1, 2)), carries=["hoist.raise.contactor", "hoist.fast.command"])
    assert why("speed_change_missing", review) == [("hoist", "missing_signal", ["hoist.fast.contactor"])]


def test_travel_motions_are_judged_too() -> None:
    records = run(10, 14, "left", motion="trolley", fast=(10.02, 13))
    assert spans("speed_change_missing", reviewed(records)) == [(at(10), at(10.02), "certain")]


@pytest.mark.parametrize(("step", "seen"), [(0.05, True), (0.1, False)])
def test_a_step_coarser_than_the_limit_cannot_resolve_a_missing_delay(step: float, seen: bool) -> None:
    review = reviewed(stepped(0.0), step_s=step)
    assert bool(spans("speed_change_missing", review)) is seen
    assert bool(why("speed_change_missing", review)) is not seen


@pytest.mark.parametrize(("step", "told"), [(0.05, True), (0.051, False), (0.2, False)])
def test_a_healthy_timer_at_a_coarse_step_is_not_resolvable_and_never_missing(step: float, told: bool) -> None:
    """A quarter of 0.4 s lies between setting and limit: two steps of up to 0.05 s. The record shows 0.4 s as 0.2 s."""
    records = stepped(0.4 if step < 0.2 else 0.2)
    assert patterns_of(records, step_s=step) == []
    reason = [] if told else [("hoist", "not_resolvable", ["a log step of 0.05 s or less"])]
    assert why("speed_change_short", reviewed(records, step_s=step)) == reason
