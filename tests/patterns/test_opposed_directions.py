"""opposed_directions: both contactors at once. Counted by hand; 0.03 s is common practice."""

from __future__ import annotations

import pytest

from tests.logs import Records, at, merged, pulse, run
from tests.patterns.helpers import found, limits, reviewed, spans, why

NAME = "opposed_directions"


def both(overlap: float) -> Records:
    """Raised from 10 s to 15 s, lowered from that much earlier to 18 s; the brake stays released throughout."""
    lowered = run(15 - overlap, 18, "lower", command=(14.97 - overlap, 18), brake=(500, 500))
    return merged(run(10, 15, command=(9.95, 15 - overlap), brake=(10.15, 18.1)), lowered)


def test_it_spans_the_time_in_which_both_are_on() -> None:
    review = reviewed(both(0.5))
    assert spans(NAME, review) == [(at(14.5), at(15), "certain")]
    assert found(NAME, review).select("measured", "limit", "direction").rows() == [(0.5, 0.03, None)]


def test_one_cause_is_one_finding() -> None:
    assert reviewed(both(0.5)).findings["pattern"].to_list() == [NAME]


@pytest.mark.parametrize(
    ("overlap", "expected"), [(0.01, []), (0.02, ["possible"]), (0.05, ["possible"]), (0.06, ["certain"])]
)
def test_both_sides_of_the_limit(overlap: float, expected: list[str]) -> None:
    assert [span[2] for span in spans(NAME, reviewed(both(overlap)))] == expected


def test_commands_at_once_are_none() -> None:
    commands = merged(pulse("hoist.raise.command", (10, 15)), pulse("hoist.lower.command", (12, 15)))
    assert spans(NAME, reviewed(commands)) == []


def test_an_unknown_state_ends_it() -> None:
    unknown = [(14.7, "hoist.lower.contactor", None)]
    assert spans(NAME, reviewed(merged(both(0.5), unknown))) == [(at(14.5), at(14.7), "certain")]


def test_a_hole_is_not_bridged() -> None:
    states = [(14.8, name, 0.0) for name in ("hoist.raise.contactor", "hoist.lower.contactor")]
    review = reviewed(merged([r for r in both(0.5) if r[0] < 14.6], states), holes=[(14.6, 14.8)])
    assert spans(NAME, review) == [(at(14.5), at(14.6), "certain")]


def test_a_coarse_step_keeps_what_is_certain() -> None:
    assert spans(NAME, reviewed(both(0.06), step_s=0.02)) == []
    assert [span[2] for span in spans(NAME, reviewed(both(0.5), step_s=0.02))] == ["certain"]
    assert [row[1] for row in why(NAME, reviewed(both(0.5), step_s=0.02))] == ["not_resolvable"]


def test_equal_stamps_in_inverted_order_are_none() -> None:
    assert spans(NAME, reviewed(both(0))) == []


def test_different_motions_and_a_limit_of_ones_own() -> None:
    assert spans(NAME, reviewed(merged(run(10, 15), run(11, 14, "left", motion="trolley")))) == []
    assert spans(NAME, reviewed(both(0.5), machine=limits(opposed_s=0.6))) == []


@pytest.mark.parametrize(("motion", "ways"), [("trolley", ("left", "right")), ("bridge", ("forward", "reverse"))])
def test_other_motions(motion: str, ways: tuple[str, str]) -> None:
    records = merged(*(pulse(f"{motion}.{way}.contactor", (10, 12)) for way in ways))
    assert found(NAME, reviewed(records))["motion"].to_list() == [motion]


@pytest.mark.parametrize(("overlap", "expected"), [(0.1, []), (0.13, []), (0.15, ["certain"])])
def test_a_step_above_the_limit_still_shows_what_lasts(overlap: float, expected: list[str]) -> None:
    # longer than 0.03 s by more than two steps of 0.05 s
    assert [span[2] for span in spans(NAME, reviewed(both(overlap), step_s=0.05))] == expected
