"""no_start: a held command without a contactor, unless something refuses it on purpose."""

from __future__ import annotations

import polars as pl
import pytest

from tests.logs import HOIST, Records, at, merged, run
from tests.patterns.helpers import found, reviewed, spans, why


def press(start: float, end: float, signal: str = "hoist.raise.command") -> Records:
    return [(start, signal, 1.0), (end, signal, 0.0)]


def test_it_spans_the_command() -> None:
    assert spans("no_start", reviewed(press(10, 12))) == [(at(10), at(12), "certain")]


@pytest.mark.parametrize(("held", "expected"), [(0.69, []), (0.71, ["possible"]), (0.73, ["certain"])])
def test_both_sides_of_the_time_it_must_be_held(held: float, expected: list[str]) -> None:
    assert [span[2] for span in spans("no_start", reviewed(press(10, 10 + held)))] == expected


def test_a_start_is_none_however_late() -> None:
    assert spans("no_start", reviewed(merged(press(10, 14), run(13, 14, command=(0, 0))))) == []


@pytest.mark.parametrize(
    "blocker",
    [
        "hoist.raise.limit",
        "overload.trip",
        "overload.fault",
        "stop.emergency",
        "hoist.motor.hot",
        "hoist.lower.command",
        "hoist.lower.contactor",
        "supply.phase_fault",
    ],
)
def test_a_blocking_signal_explains_it(blocker: str) -> None:
    review = reviewed(merged(press(10, 12), press(9, 11, blocker)))
    assert "raise" not in found("no_start", review)["direction"].to_list()


@pytest.mark.parametrize("other", ["hoist.lower.limit", "overload.warning", "trolley.left.limit", "rope.slack"])
def test_what_does_not_block_this_direction_explains_nothing(other: str) -> None:
    assert len(spans("no_start", reviewed(merged(press(10, 12), press(9, 11, other))))) == 1


def test_a_supply_that_is_gone_explains_it() -> None:
    records = merged(
        [(0, "supply.control", 1.0), (9, "supply.control", 0.0), (30, "supply.control", 1.0)], press(10, 12)
    )
    assert spans("no_start", reviewed(records)) == []


def test_a_blocker_that_came_after_the_refusal_explains_nothing() -> None:
    assert len(spans("no_start", reviewed(merged(press(10, 13), press(11.5, 14, "hoist.raise.limit"))))) == 1


def test_unlogged_devices_leave_it_possible_unless_it_starts_soon_after() -> None:
    few = ("hoist.lower.command", "hoist.lower.contactor")
    alone = press(10, 12, "hoist.lower.command")
    assert spans("no_start", reviewed(alone, carries=few))[0][2] == "possible"
    again = merged(alone, run(13, 15, "lower"))
    assert spans("no_start", reviewed(again, carries=few))[0][2] == "certain"


def test_a_confirmation_that_is_on_at_rest_is_said() -> None:
    records = merged(press(10, 12), press(5, 60, "hoist.brake.released"))
    review = reviewed(records)
    summary = review.findings.filter(pl.col("pattern") == "no_start")["summary"][0]
    assert "confirmation on at rest" in summary
    assert "at rest" not in reviewed(press(10, 12)).findings["summary"][0]


def test_each_press_in_vain_is_one() -> None:
    assert (
        len(spans("no_start", reviewed(merged(press(10, 12), press(13, 15), press(16, 18, "hoist.lower.command")))))
        == 3
    )


def test_a_contactor_of_unknown_state_proves_nothing() -> None:
    records = merged(press(10, 12), [(5, "hoist.raise.contactor", None)])
    assert spans("no_start", reviewed(records, carries=HOIST)) == []


@pytest.mark.parametrize(
    ("lower", "lacking"),
    [
        (["hoist.lower.command"], ["hoist.lower.contactor"]),
        (["hoist.lower.command", "hoist.lower.contactor"], None),
        ([], None),  # nothing is commanded that could be judged
    ],
)
def test_a_direction_without_contactor_is_not_assessed_though_the_other_is(
    lower: list[str], lacking: list[str] | None
) -> None:
    review = reviewed(press(10, 12), ["hoist.raise.command", "hoist.raise.contactor", *lower])
    assert len(spans("no_start", review)) == 1
    assert why("no_start", review) == ([("hoist", "missing_signal", lacking)] if lacking else [])


@pytest.mark.parametrize(("step", "certainty"), [(0.05, "certain"), (0.06, "possible")])
def test_a_step_that_hides_a_contactor_that_closed_for_a_moment_leaves_it_possible(step: float, certainty: str) -> None:
    """Contactors close within 0.1 s (common practice): two log steps must not be longer."""
    assert [span[2] for span in spans("no_start", reviewed(press(10, 12), step_s=step))] == [certainty]


@pytest.mark.parametrize("device", ["hoist.raise.limit", "hoist.motor.hot", "stop.emergency", "overload.trip"])
def test_a_device_of_unknown_state_is_not_known_to_be_off(device: str) -> None:
    unknown: Records = [(8.0, device, None)]
    assert spans("no_start", reviewed(merged(press(10, 12), unknown)))[0][2] == "possible"
    known: Records = [(9.0, device, 0.0)]
    assert spans("no_start", reviewed(merged(press(10, 12), unknown, known)))[0][2] == "certain"
