"""brake_not_confirmed: half a second of current without a confirmation."""

from __future__ import annotations

import polars as pl
import pytest

from tests.logs import Records, at, merged, pulse, run
from tests.patterns.helpers import limits, reviewed, spans, why

NEVER = (900.0, 900.0)


def test_it_spans_the_run() -> None:
    review = reviewed(run(10, 11, command=(9.95, 13), brake=NEVER))
    assert spans("brake_not_confirmed", review) == [(at(10), at(11), "certain")]


def test_a_late_confirmation_is_a_confirmation() -> None:
    assert spans("brake_not_confirmed", reviewed(run(10, 12, brake=(10.9, 12.1)))) == []


@pytest.mark.parametrize(("length", "expected"), [(0.49, []), (0.51, ["possible"]), (0.52, ["certain"])])
def test_both_sides_of_the_release_limit(length: float, expected: list[str]) -> None:
    records = run(10, 10 + length, command=(9.95, 10 + length + 0.5), brake=NEVER)
    assert [span[2] for span in spans("brake_not_confirmed", reviewed(records))] == expected


@pytest.mark.parametrize(("length", "expected"), [(0.99, []), (1.01, ["possible"]), (1.02, ["certain"])])
def test_a_run_that_the_operator_ended_proves_nothing_before_a_controller_would_give_up(
    length: float, expected: list[str]
) -> None:
    records = run(10, 10 + length, command=(9.95, 10 + length - 0.02), brake=NEVER)
    assert [span[2] for span in spans("brake_not_confirmed", reviewed(records))] == expected


def test_the_machine_file_changes_the_limit() -> None:
    records = run(10, 10.7, command=(9.95, 12), brake=NEVER)
    assert len(spans("brake_not_confirmed", reviewed(records))) == 1
    assert spans("brake_not_confirmed", reviewed(records, machine=limits(brake_release_s=0.9))) == []


def test_a_confirmation_that_is_unknown_proves_nothing() -> None:
    records = merged(run(10, 12, brake=NEVER), [(8, "hoist.brake.released", None)])
    assert spans("brake_not_confirmed", reviewed(records)) == []


def test_it_needs_the_confirmation() -> None:
    records = pulse("hoist.raise.contactor", (10, 12))
    assert why("brake_not_confirmed", reviewed(records, carries=["hoist.raise.contactor"])) == [
        ("hoist", "missing_signal", ["hoist.brake.released"])
    ]


def test_a_step_coarser_than_the_limit_cannot_resolve_it() -> None:
    assert why("brake_not_confirmed", reviewed(run(10, 12), step_s=1.0)) == [
        ("hoist", "not_resolvable", ["a log step below 0.5 s"])
    ]


def runs_without(count: int, *, held_on_s: float) -> Records:
    """Twenty-five runs of 1.5 s that are confirmed, then some that are not, held on for so long after their end."""
    good = [run(10.0 * n, 10.0 * n + 1.5) for n in range(1, 26)]
    ends = [10.0 * n + 1.5 for n in range(26, 26 + count)]
    return merged(*good, *(run(e - 1.5, e, command=(e - 1.55, e + held_on_s), brake=NEVER) for e in ends))


@pytest.mark.parametrize(
    ("count", "held_on_s", "expected"),
    [
        (19, -0.02, "certain"),  # too few to say that the signal stands still: twenty runs at the least
        (20, -0.02, "possible"),
        (20, 1.0, "certain"),  # the controller gave up: it missed the confirmation too
    ],
)
def test_runs_that_go_on_without_any_confirmation_may_have_lost_it_in_the_log(
    count: int, held_on_s: float, expected: str
) -> None:
    review = reviewed(runs_without(count, held_on_s=held_on_s))
    assert [span[2] for span in spans("brake_not_confirmed", review)] == [expected] * count
    frozen = review.occurrences.filter(pl.col("pattern") == "frozen_signal")["signal"].cast(str).to_list()
    assert ("hoist.brake.released" in frozen) is (count >= 20)


@pytest.mark.parametrize(("held_on_s", "expected"), [(0.2, "possible"), (0.3, "certain")])
def test_whether_the_controller_gave_up_is_known_to_two_steps(held_on_s: float, expected: str) -> None:
    review = reviewed(runs_without(20, held_on_s=held_on_s), step_s=0.1)
    assert [span[2] for span in spans("brake_not_confirmed", review)] == [expected] * 20


COMMANDS = ("hoist.raise.command", "hoist.lower.command", "hoist.brake.released")
DEVICES = ("hoist.raise.limit", "hoist.motor.hot", "stop.emergency", "overload.trip")


@pytest.mark.parametrize("device", [None, *DEVICES])
def test_with_commands_only_one_that_was_refused_needs_no_confirmation(device: str | None) -> None:
    refusing = pulse(device, (5, 20)) if device else []
    review = reviewed(merged(pulse("hoist.raise.command", (10, 12)), refusing), (*COMMANDS, *DEVICES))
    assert spans("brake_not_confirmed", review) == ([] if device else [(at(10), at(12), "certain")])


@pytest.mark.parametrize("device", DEVICES)
def test_with_commands_only_a_device_that_is_not_logged_leaves_it_possible(device: str) -> None:
    carries = [name for name in (*COMMANDS, *DEVICES) if name != device]
    review = reviewed(pulse("hoist.raise.command", (10, 12)), carries)
    assert [span[2] for span in spans("brake_not_confirmed", review)] == ["possible"]
