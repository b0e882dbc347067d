"""contactor_uncommanded: a contactor closes and nobody asked. Counted by hand; limits are common practice."""

from __future__ import annotations

import pytest

from tests.logs import HOIST, at, merged, pulse, run
from tests.patterns.helpers import found, reviewed, spans, why

NAME = "contactor_uncommanded"
RAISE = "hoist.raise.contactor"


def test_it_spans_the_contactor() -> None:
    review = reviewed(pulse(RAISE, (10, 12)))
    assert spans(NAME, review) == [(at(10), at(12), "certain")]
    assert found(NAME, review).select("measured", "direction", "signal").rows() == [(2.0, "raise", RAISE)]
    assert ("out_of_service", NAME) in review.findings.select("severity", "pattern").rows()


@pytest.mark.parametrize(
    ("since", "expected"), [(0.48, []), (0.49, ["possible"]), (0.52, ["possible"]), (0.53, ["certain"])]
)
def test_both_sides_of_a_late_answer(since: float, expected: list[str]) -> None:
    records = merged(pulse("hoist.raise.command", (8, 10 - since)), pulse(RAISE, (10, 10.5)))
    assert [s[2] for s in spans(NAME, reviewed(records))] == expected


@pytest.mark.parametrize(
    ("after", "expected"), [(0.04, []), (0.05, ["possible"]), (0.07, ["possible"]), (0.08, ["certain"])]
)
def test_both_sides_of_a_command_that_is_written_late(after: float, expected: list[str]) -> None:
    records = merged(pulse(RAISE, (10, 12)), pulse("hoist.raise.command", (10 + after, 12)))
    assert [s[2] for s in spans(NAME, reviewed(records))] == expected


def test_one_that_opens_again_at_once_is_one_too() -> None:
    assert spans(NAME, reviewed(pulse(RAISE, (10, 10.03)))) == [(at(10), at(10.03), "certain")]


def test_a_commanded_run_is_none_and_equal_stamps_neither() -> None:
    assert spans(NAME, reviewed(run(10, 15))) == []
    inverted = merged([(10.0, RAISE, 1.0)], pulse("hoist.raise.command", (10, 15)), [(15.0, RAISE, 0.0)])
    assert spans(NAME, reviewed(inverted)) == []


def test_a_burst_of_them_is_no_jogging() -> None:
    review = reviewed(pulse(RAISE, (10, 10.6), (11.2, 11.8), (12.4, 13), (13.6, 14.2)))
    assert review.findings["pattern"].to_list() == [NAME]
    assert len(spans(NAME, review)) == 4


def test_an_unknown_command_proves_nothing() -> None:
    unknown = [(9.0, "hoist.raise.command", None)]
    assert spans(NAME, reviewed(merged(unknown, pulse(RAISE, (10, 12))))) == []
    lately = [*unknown, (9.8, "hoist.raise.command", 0.0)]
    assert spans(NAME, reviewed(merged(lately, pulse(RAISE, (10, 12))))) == []


def test_a_contactor_that_closed_in_a_hole_is_none() -> None:
    states = [(10.0, name, float(name == RAISE)) for name in HOIST]
    assert spans(NAME, reviewed([*states, (12.0, RAISE, 0.0)], holes=[(9, 10)])) == []


def test_the_fast_output_counts_where_its_command_is_logged() -> None:
    records = run(10, 15, fast=(11, 14))
    assert found(NAME, reviewed(records))["signal"].to_list() == ["hoist.fast.contactor"]
    few = [name for name in HOIST if name != "hoist.fast.command"]
    assert spans(NAME, reviewed(records, few)) == []


def test_a_step_that_may_hide_a_press_judges_nothing() -> None:
    review = reviewed(pulse(RAISE, (10, 12)), step_s=0.05)
    assert spans(NAME, review) == []
    assert [row[1] for row in why(NAME, review)] == ["not_resolvable"]


def test_other_motions() -> None:
    records = pulse("bridge.reverse.contactor", (10, 12))
    assert found(NAME, reviewed(records, ("bridge.reverse.command",)))["motion"].to_list() == ["bridge"]


@pytest.mark.parametrize(("uncommanded", "expected"), [(6, "certain"), (7, "possible"), (20, "possible")])
def test_a_command_that_stands_still_while_the_work_goes_on_may_be_lost_in_the_log(
    uncommanded: int, expected: str
) -> None:
    # by hand: 25 of 25 runs with a press are a share of 0.863 or more (Clopper, Pearson); of k runs none has one by a
    # chance of 0.137^k, and that is below 0.001 / 10 signals / 26 stretches from k = 7 on
    good = [run(10.0 * n, 10.0 * n + 2) for n in range(1, 26)]
    bare = pulse(RAISE, *((10.0 * n, 10.0 * n + 2) for n in range(26, 26 + uncommanded)))[1:]
    review = reviewed(merged(*good, bare))
    assert [span[2] for span in spans(NAME, review)] == [expected] * uncommanded


def test_a_single_fast_output_in_a_rest_of_its_command_stays_certain() -> None:
    # fast is used in every run, then no more; two strays are faults of the machine, three say that the command is lost
    fast = [
        run(10.0 * n, 10.0 * n + 3, fast=(10.0 * n + 1, 10.0 * n + 3), fast_command=(10.0 * n + 0.5, 10.0 * n + 2.9))
        for n in range(1, 26)
    ]
    slow = [run(10.0 * n, 10.0 * n + 3) for n in range(26, 60)]
    for strays, expected in ((2, "certain"), (3, "possible")):
        alone = pulse("hoist.fast.contactor", *((10.0 * n + 1, 10.0 * n + 2) for n in range(40, 40 + strays)))[1:]
        review = reviewed(merged(*fast, *slow, alone))
        assert [span[2] for span in spans(NAME, review)] == [expected] * strays
