"""lost_function: an output that fails in every try, or in many; single refusals and refused tries are none.

Expected numbers are counted by hand.
"""

from __future__ import annotations

import pytest

from eventlens.result import Review
from tests.logs import HOIST, Records, at, merged, pulse, run
from tests.patterns.helpers import found, limits, reviewed, spans

NAME = "lost_function"
SLOWDOWNS = ("hoist.raise.slowdown", "hoist.lower.slowdown")


def press(start: float, end: float, signal: str = "hoist.raise.command") -> Records:
    return [(start, signal, 1.0), (end, signal, 0.0)]


def vain(*starts: float) -> Records:
    return merged(*(press(start, start + 2) for start in starts))


def fast_in_vain(start: float) -> Records:
    return run(start, start + 6, fast_command=(start + 1, start + 5))


def names(review: Review) -> list[str]:
    return review.findings["pattern"].to_list()


def test_three_tries_in_vain_are_three_occurrences_of_one_finding() -> None:
    review = reviewed(merged(run(2, 5), vain(10, 20, 30)))
    assert spans(NAME, review) == [(at(t), at(t + 2), "certain") for t in (10, 20, 30)]
    assert found(NAME, review)["signal"].unique().to_list() == ["hoist.raise.contactor"]
    assert found(NAME, review)["measured"].to_list() == [3.0] * 3
    assert spans("no_start", review) == spans(NAME, review)
    text = review.findings.row(0, named=True)["summary"]
    assert "failed in 3 of 4 tries, up to 3 in a row, and did not come back; the same tries as no_start" in text


def test_two_tries_in_vain_are_not_lost() -> None:
    assert names(reviewed(merged(run(2, 5), vain(10, 20)))) == ["no_start"]


def test_a_start_in_between_breaks_the_row_and_one_after_ends_it() -> None:
    assert spans(NAME, reviewed(merged(vain(10, 20), run(25, 28), vain(30, 40)))) == []
    review = reviewed(merged(vain(10, 20, 30), run(40, 43), vain(50)))
    assert len(spans(NAME, review)) == 3
    assert "failed in 4 of 5 tries" in review.findings["summary"][0]


def test_tries_of_the_other_direction_do_not_break_it() -> None:
    assert len(spans(NAME, reviewed(merged(vain(10), run(15, 18, "lower"), vain(20, 30))))) == 3


def test_refused_on_purpose_is_no_try() -> None:
    assert names(reviewed(merged(vain(10, 20, 30), pulse("hoist.raise.limit", (5, 100))))) == []
    some = merged(vain(10, 20, 30, 40), press(15, 35, "hoist.raise.limit"))
    assert spans(NAME, reviewed(some)) == []


@pytest.mark.parametrize(("held", "count"), [(0.69, 0), (0.73, 3)])
def test_short_presses_are_no_tries(held: float, count: int) -> None:
    """no_start_s = 0.7 s."""
    assert len(spans(NAME, reviewed(merged(*(press(t, t + held) for t in (10, 20, 30)))))) == count


def test_an_answer_at_the_same_instant_or_one_step_before_is_an_answer() -> None:
    for lead in (0.0, 1.0):
        early = [run(t, t + 20, command=(t + lead, t + 18)) for t in (50, 100, 150)]
        review = reviewed(
            merged(*early, *(run(t, t + 20, command=(t, t + 18)) for t in range(200, 900, 50))), step_s=1.0
        )
        assert names(review) == []


class TestShare:
    """More than a fifth of at least twenty tries."""

    def records(self, tries: int, failing: int) -> Records:
        """The failing ones lie apart from each other, among the first."""
        failed = [t for t in range(tries) if t % 2 == 0][:failing]
        return merged(
            *(vain(20.0 * t + 10) if t in failed else run(20.0 * t + 10, 20.0 * t + 13) for t in range(tries))
        )

    @pytest.mark.parametrize(
        ("tries", "failing", "count"), [(20, 5, 5), (20, 4, 0), (19, 5, 0), (25, 6, 6), (25, 5, 0)]
    )
    def test_both_sides(self, tries: int, failing: int, count: int) -> None:
        review = reviewed(self.records(tries, failing))
        assert [span[2] for span in spans(NAME, review)] == ["certain"] * count
        assert found(NAME, review)["limit"].to_list() == [None] * count  # no row of three

    def test_it_can_be_changed(self) -> None:
        changed = limits(lost_share=0.3)
        assert spans(NAME, reviewed(self.records(20, 5), machine=changed)) == []


class TestFast:
    def test_fast_is_lost_in_three_tries(self) -> None:
        records = merged(*(fast_in_vain(t) for t in (10, 20, 30)))
        review = reviewed(records, (*HOIST, *SLOWDOWNS))
        assert spans(NAME, review) == [(at(t + 1), at(t + 5), "certain") for t in (10, 20, 30)]
        assert spans("fast_not_reached", review) == spans(NAME, review)
        assert found(NAME, review)["signal"].unique().to_list() == ["hoist.fast.contactor"]
        assert "the same tries as fast_not_reached" in " ".join(review.findings["summary"])

    def test_fast_that_comes_breaks_the_row(self) -> None:
        good = run(25, 29, fast=(25.5, 28.5), fast_command=(25.1, 28.5))
        records = merged(fast_in_vain(10), fast_in_vain(17.5), good, fast_in_vain(32), fast_in_vain(42))
        assert spans(NAME, reviewed(records, (*HOIST, *SLOWDOWNS))) == []

    def test_a_slow_down_zone_explains_them(self) -> None:
        records = merged(*(fast_in_vain(t) for t in (10, 20, 30)), pulse("hoist.raise.slowdown", (5, 100)))
        assert spans(NAME, reviewed(records, (*HOIST, *SLOWDOWNS))) == []

    def test_both_functions_are_told_apart(self) -> None:
        fast = merged(*(fast_in_vain(t) for t in (100, 110, 120)))
        lower = merged(*(press(t, t + 2, "hoist.lower.command") for t in (10, 20, 30)))
        review = reviewed(merged(fast, lower), (*HOIST, *SLOWDOWNS))
        assert found(NAME, review)["signal"].n_unique() == 2


class TestDoubt:
    few = ("hoist.raise.command", "hoist.raise.contactor")

    def test_without_the_devices_it_is_possible(self) -> None:
        assert [span[2] for span in spans(NAME, reviewed(vain(10, 20, 30), self.few))] == ["possible"] * 3

    def test_three_certain_ones_make_the_row_certain_and_not_the_others(self) -> None:
        records = merged(vain(10, 20, 30), press(40, 40.71))
        assert [span[2] for span in spans(NAME, reviewed(records))] == ["certain"] * 3 + ["possible"]
        records = merged(vain(10, 20), press(40, 40.71))
        assert [span[2] for span in spans(NAME, reviewed(records))] == ["possible"] * 3

    def test_a_try_whose_output_is_unknown_is_none(self) -> None:
        records = merged(vain(10, 20, 30), [(15, "hoist.raise.contactor", None), (25, "hoist.raise.contactor", 0.0)])
        assert spans(NAME, reviewed(records)) == []

    def test_a_row_ends_at_a_hole(self) -> None:
        again = [(25.0, name, 0.0) for name in HOIST]
        assert spans(NAME, reviewed(merged(vain(10, 18, 30), again), holes=[(21, 25)])) == []

    @pytest.mark.parametrize(("step", "kinds"), [(0.05, ["certain"] * 3), (0.2, ["possible"] * 3), (1.0, [])])
    def test_a_coarse_step(self, step: float, kinds: list[str]) -> None:
        """Up to 0.05 s a contactor that closes for a moment (0.1 s) is seen; from 0.7 s on nothing is resolvable."""
        assert [span[2] for span in spans(NAME, reviewed(vain(10, 20, 30), step_s=step))] == kinds


def test_a_relay_that_chatters_is_not_lost() -> None:
    closed = [r for n in range(5) for r in press(20 + 0.2 * n, 20.1 + 0.2 * n, "hoist.raise.contactor")]
    held = merged(press(20, 21.2), press(21.3, 22.3))
    assert names(reviewed(merged(held, closed))) == ["chatter"]
