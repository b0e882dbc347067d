"""reversal_without_pause: driven the other way while still turning. Counted by hand; 0.3 s is common practice."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, Records, at, merged, run
from tests.patterns.helpers import found, reviewed, spans

NAME = "reversal_without_pause"


def reversal(pause: float, second: str = "lower") -> Records:
    return merged(run(10, 15, brake=(10.15, 15.1)), run(15 + pause, 18, second, brake=(15.25 + pause, 18.1)))


def test_it_spans_the_pause() -> None:
    review = reviewed(reversal(0.1))
    assert spans(NAME, review) == [(at(15), at(15.1), "certain")]
    assert found(NAME, review).select("measured", "limit", "direction").rows() == [(0.1, 0.3, "lower")]


@pytest.mark.parametrize(
    ("pause", "expected"), [(0.27, ["certain"]), (0.28, ["possible"]), (0.31, ["possible"]), (0.32, [])]
)
def test_both_sides_of_the_limit(pause: float, expected: list[str]) -> None:
    assert [span[2] for span in spans(NAME, reviewed(reversal(pause)))] == expected


def test_the_same_way_again_is_none() -> None:
    assert spans(NAME, reviewed(reversal(0.1, "raise"))) == []


def test_both_on_at_once_is_another() -> None:
    review = reviewed(reversal(-0.5))
    assert NAME not in review.findings["pattern"].to_list()


def test_commands_alone_leave_it_possible() -> None:
    commands = ("hoist.raise.command", "hoist.lower.command")
    records = [r for r in reversal(0.05) if "command" in r[1]]
    assert [span[2] for span in spans(NAME, reviewed(records, commands))] == ["possible"]


def test_an_end_that_is_unknown_or_in_a_hole_gives_no_pause() -> None:
    unknown = [(14.9, "hoist.raise.contactor", None), (14.95, "hoist.raise.contactor", 0.0)]
    assert spans(NAME, reviewed(merged(reversal(0.1), unknown))) == []
    states = [(15.05, name, 0.0) for name in HOIST]
    records = merged([r for r in reversal(0.1) if r[0] < 14.9 or r[0] >= 15.1], states)
    assert spans(NAME, reviewed(records, holes=[(14.92, 15.05)])) == []


def test_a_coarse_step_keeps_what_is_certain() -> None:
    assert spans(NAME, reviewed(reversal(0.25), step_s=0.05)) == []
    assert [span[2] for span in spans(NAME, reviewed(reversal(0.1), step_s=0.05))] == ["certain"]


def test_equal_stamps_are_a_pause_of_nothing() -> None:
    assert found(NAME, reviewed(reversal(0.0)))["measured"].to_list() == [0.0]


def test_each_motion_has_its_own() -> None:
    bridge = merged(run(10, 15, "forward", motion="bridge"), run(15.1, 18, "reverse", motion="bridge"))
    assert found(NAME, reviewed(bridge))["motion"].to_list() == ["bridge"]
    mixed = merged(run(10, 15), run(15.1, 18, "left", motion="trolley"))
    assert spans(NAME, reviewed(mixed)) == []
