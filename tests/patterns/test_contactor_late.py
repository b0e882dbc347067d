"""contactor_late: the command is held and the contactor hesitates. Counted by hand; limits are common practice."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, Records, at, merged, run
from tests.patterns.helpers import found, reviewed, spans

NAME = "contactor_late"


def late(delay: float, direction: str = "raise") -> Records:
    """Pressed at 10 s, released at 15 s."""
    return run(10 + delay, 15.03, direction, command=(10, 15))


def during(signal: str, start: float, end: float) -> Records:
    return [(start, signal, 1.0), (end, signal, 0.0)]


def test_it_spans_command_to_contactor() -> None:
    review = reviewed(late(0.6))
    assert spans(NAME, review) == [(at(10), at(10.6), "certain")]
    assert found(NAME, review).select("measured", "limit", "direction").rows() == [(0.6, 0.3, "raise")]
    assert review.findings["pattern"].to_list() == [NAME]


@pytest.mark.parametrize(
    ("delay", "expected"), [(0.28, []), (0.29, ["possible"]), (0.32, ["possible"]), (0.33, ["certain"])]
)
def test_both_sides_of_the_limit(delay: float, expected: list[str]) -> None:
    assert [s[2] for s in spans(NAME, reviewed(late(delay)))] == expected


def test_one_that_never_comes_is_no_start() -> None:
    review = reviewed(during("hoist.raise.command", 10, 15))
    assert review.findings["pattern"].to_list() == ["no_start"]


def test_a_command_that_is_no_longer_held_is_none() -> None:
    assert spans(NAME, reviewed(run(10.4, 11, command=(10, 10.35)))) == []


@pytest.mark.parametrize(
    "blocker",
    [
        "hoist.raise.limit",
        "overload.trip",
        "stop.emergency",
        "hoist.motor.hot",
        "hoist.lower.command",
        "hoist.lower.contactor",
        "supply.phase_fault",
        "hoist.brake.released",
    ],
)
def test_what_blocked_at_the_press_explains_it(blocker: str) -> None:
    review = reviewed(merged(late(0.6), during(blocker, 9.5, 10.1)))
    assert spans(NAME, review) == []


@pytest.mark.parametrize("other", ["hoist.lower.limit", "trolley.left.limit", "overload.warning"])
def test_what_does_not_block_explains_nothing(other: str) -> None:
    assert len(spans(NAME, reviewed(merged(late(0.6), during(other, 9.5, 10.1))))) == 1


@pytest.mark.parametrize(("before", "count"), [(0.9, 0), (1.1, 1)])
def test_both_sides_of_the_reversing_dwell(before: float, count: int) -> None:
    lowered = run(5, 10 - before, "lower", brake=(5.1, 10 - before))
    assert len(spans(NAME, reviewed(merged(lowered, late(0.6))))) == count


@pytest.mark.parametrize(("before", "count"), [(0.45, 0), (0.55, 1)])
def test_both_sides_of_the_lock_against_repeated_starts(before: float, count: int) -> None:
    raised = run(5, 10 - before, brake=(5.1, 10 - before))
    assert len(spans(NAME, reviewed(merged(raised, late(0.6))))) == count


def test_unknown_devices_leave_it_possible() -> None:
    few = [name for name in HOIST if name != "overload.trip"]
    assert [s[2] for s in spans(NAME, reviewed(late(0.6), few))] == ["possible"]
    alone = ("hoist.raise.command", "hoist.raise.contactor")
    assert [s[2] for s in spans(NAME, reviewed(late(0.6), alone))] == ["possible"]


def test_a_hole_or_an_unknown_command_gives_no_time() -> None:
    states = [(10.3, name, float(name == "hoist.raise.command")) for name in HOIST]
    records = merged([r for r in late(0.6) if r[0] > 10.3], states)
    assert spans(NAME, reviewed(records, holes=[(9, 10.3)])) == []
    assert spans(NAME, reviewed(merged([(9.0, "hoist.raise.command", None)], late(0.6)))) == []


def test_a_coarse_step_keeps_what_is_certain() -> None:
    assert spans(NAME, reviewed(late(0.4), step_s=0.1)) == []
    assert [s[2] for s in spans(NAME, reviewed(late(0.6), step_s=0.1))] == ["certain"]


def test_equal_stamps_in_inverted_order_are_none() -> None:
    contactor = [(10.0, "hoist.raise.contactor", 1.0), (15.0, "hoist.raise.contactor", 0.0)]
    assert spans(NAME, reviewed(merged(contactor, during("hoist.raise.command", 10, 15)))) == []


def test_other_motions() -> None:
    records = run(10.6, 15, "left", motion="trolley", command=(10, 15))
    assert found(NAME, reviewed(records))["motion"].to_list() == ["trolley"]
