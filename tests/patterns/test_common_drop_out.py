"""common_drop_out: signals of different circuits fall together; neighbours have a cause of their own, or are one alone.

Where nothing else is said, expected numbers are counted by hand.
"""

from __future__ import annotations

import polars as pl
import pytest

from eventlens.motion import build_states
from eventlens.motion.common import CommonParameters, common_drop_outs
from eventlens.motion.endings import EndingParameters
from eventlens.result import Review
from tests.logs import HOIST, Records, at, make_log, merged, off, run
from tests.patterns.helpers import found, limits, logged, reviewed, spans

NAME = "common_drop_out"
TRAVEL = ("trolley.left.command", "trolley.left.contactor", "trolley.right.command", "trolley.right.contactor")
CARRIES = (*HOIST, *TRAVEL)


def on(signal: str, start: float, end: float) -> Records:
    return [(start, signal, 1.0), (end, signal, 0.0)]


def dip(apart: float = 0.0, *, held: float = 21.0) -> Records:
    """Hoist and trolley run from 10; at 20 both contactors open, the trolley's `apart` later; buttons held until 21."""
    return merged(
        run(10, 20, command=(9.9, held), brake=(10.2, 20.05), fast=(10.5, 20), fast_command=(10.4, held)),
        run(12, 20 + apart, "left", motion="trolley", command=(11.9, held)),
    )


def supply(*gone: tuple[float, float]) -> Records:
    return [(0.0, "supply.control", 1.0), *((t, "supply.control", v) for a, b in gone for t, v in ((a, 0.0), (b, 1.0)))]


def names(review: Review) -> list[str]:
    return review.findings["pattern"].to_list()


def test_two_motions_that_drop_out_at_once_are_one_finding_and_nothing_else() -> None:
    review = reviewed(merged(dip(), run(30, 33)), CARRIES)
    assert spans(NAME, review) == [(at(20), at(30), "certain")]  # until anything comes on again
    assert found(NAME, review).select("measured", "limit").rows() == [(2.0, 2.0)]
    assert names(review) == [NAME]
    assert [review.motions[m].endings["supply"] for m in ("hoist", "trolley")] == [1, 1]


def test_with_the_supply_in_the_log_it_is_the_same_one_and_ends_with_the_supply() -> None:
    review = reviewed(merged(dip(0.01), supply((19.99, 20.4)), run(30, 33)), CARRIES)
    assert spans(NAME, review) == [(at(19.99), at(20.4), "certain")]
    assert names(review) == [NAME]
    assert found(NAME, review)["measured"].to_list() == [3.0]


def test_one_relay_alone_is_a_drop_out() -> None:
    review = reviewed(merged(run(10, 20, command=(9.9, 21)), run(12, 24, "left", motion="trolley")), CARRIES)
    assert names(review) == ["drop_out"]


def test_with_the_supply_in_the_log_one_contactor_is_enough() -> None:
    review = reviewed(merged(run(10, 20, command=(9.9, 21)), supply((19.98, 20.5))), CARRIES)
    assert spans(NAME, review) == [(at(19.98), at(20.5), "certain")]
    assert names(review) == [NAME]


def test_a_supply_that_goes_while_nothing_runs_opens_nothing() -> None:
    assert names(reviewed(merged(run(10, 18), supply((20, 30))), CARRIES)) == []


def test_an_operator_who_lets_go_before_the_supply_goes_has_let_go() -> None:
    review = reviewed(merged(run(10, 20, command=(9.9, 19.95)), supply((20.1, 30))), CARRIES)
    assert names(review) == []
    assert review.motions["hoist"].endings["let_go"] == 1


@pytest.mark.parametrize("released", [19.97, 20.0, 20.02])
def test_letting_go_of_two_motions_at_once_is_none(released: float) -> None:
    """Up to two log steps after the contactor: the controller writes its outputs before its inputs."""
    assert names(reviewed(dip(held=released), CARRIES)) == []


def test_equal_stamps_in_inverted_order_are_letting_go() -> None:
    records = [r for r in dip(held=20.0) if r[0] != 20.0]
    last = [r for r in dip(held=20.0) if r[0] == 20.0]
    for order in (last, last[::-1]):
        assert names(reviewed(merged(records, order), CARRIES)) == []


def test_an_emergency_stop_opens_everything_on_purpose() -> None:
    review = reviewed(merged(dip(), on("stop.emergency", 19.98, 40)), CARRIES)
    assert names(review) == ["emergency_stop_running"]
    assert review.motions["hoist"].endings["emergency_stop"] == 1
    both = merged(dip(), on("stop.emergency", 19.98, 40), supply((20, 41)))
    assert names(reviewed(both, CARRIES)) == ["emergency_stop_running"]


def test_limits_of_their_own_explain_two_motions() -> None:
    records = merged(dip(), on("hoist.raise.limit", 19.98, 40), on("trolley.left.limit", 19.98, 40))
    assert spans(NAME, reviewed(records, CARRIES)) == []


@pytest.mark.parametrize(("apart", "count"), [(0.03, 1), (0.04, 0)])
def test_both_sides_of_together(apart: float, count: int) -> None:
    """common_within_s = 0.03 s at a step of 0.01 s."""
    assert len(spans(NAME, reviewed(dip(apart, held=22), CARRIES))) == count


def test_a_coarser_step_counts_as_together() -> None:
    assert len(spans(NAME, reviewed(dip(0.05, held=22), CARRIES, step_s=0.05))) == 1
    assert len(spans(NAME, reviewed(dip(0.06, held=22), CARRIES, step_s=0.05))) == 0


class TestWithInputs:
    """Inputs that fail safe operate when their supply goes; buttons on the same supply fall too."""

    failing = ("hoist.lower.limit", "trolley.left.limit", "trolley.right.limit", "stop.emergency", "hoist.raise.limit")

    def records(self, *failing: str, later: float = 0.0) -> Records:
        inputs = [on(name, 20 + later * n, 20.4) for n, name in enumerate(failing)]
        return merged(run(10, 20, command=(9.9, 20.0)), *inputs)

    def test_everything_changes_at_once_and_it_is_no_emergency_stop(self) -> None:
        review = reviewed(self.records(*self.failing), CARRIES)
        assert spans(NAME, review) == [(at(20), at(20.4), "certain")]
        assert found(NAME, review)["measured"].to_list() == [4.0]  # contactor and three limits of other directions
        assert names(review) == [NAME]
        assert review.motions["hoist"].endings["supply"] == 1

    def test_two_unrelated_inputs_are_needed(self) -> None:
        assert len(spans(NAME, reviewed(self.records(*self.failing[:2]), CARRIES))) == 1
        assert spans(NAME, reviewed(self.records(*self.failing[:1]), CARRIES)) == []

    def test_limits_of_one_direction_are_one(self) -> None:
        records = self.records("trolley.left.limit", "trolley.left.slowdown")
        assert spans(NAME, reviewed(records, CARRIES)) == []

    def test_what_may_stop_the_run_itself_does_not_count(self) -> None:
        records = self.records("hoist.raise.limit", "overload.trip", "hoist.motor.hot")
        assert spans(NAME, reviewed(records, CARRIES)) == []

    def test_they_must_be_together(self) -> None:
        assert spans(NAME, reviewed(self.records(*self.failing[:2], later=0.07), CARRIES)) == []

    def test_a_command_stands_for_a_contactor_that_is_not_logged(self) -> None:
        few = ("hoist.raise.command", "hoist.lower.limit", "trolley.left.limit")
        records = merged(on("hoist.raise.command", 10, 20), *(on(name, 20, 20.4) for name in few[1:]))
        log = logged(records, few)
        states = build_states(log.events, log.segments, log.signals())
        assert common_drop_outs(states, CommonParameters(), EndingParameters(), 0.01)["fallen"].to_list() == [3]


class TestDoubt:
    def test_without_a_stop_in_the_log_it_is_possible_unless_something_returns_soon(self) -> None:
        few = tuple(name for name in CARRIES if name != "stop.emergency")
        assert spans(NAME, reviewed(merged(dip(), run(25, 28)), few))[0][2] == "possible"
        for back, certainty in ((22.9, "certain"), (23.1, "possible")):  # stop_reset_s = 3 s after the fall at 20
            assert spans(NAME, reviewed(merged(dip(), run(back, 28)), few))[0][2] == certainty

    def test_a_stop_of_unknown_state_leaves_it_possible(self) -> None:
        records = merged(dip(), [(15, "stop.emergency", None), (40, "stop.emergency", 0.0)])
        assert spans(NAME, reviewed(records, CARRIES))[0][2] == "possible"

    def test_an_unknown_command_proves_no_hold(self) -> None:
        records = [r for r in dip() if r[1] != "trolley.left.command"]
        records = merged(records, [(11.9, "trolley.left.command", 1.0), (15, "trolley.left.command", None)])
        assert spans(NAME, reviewed(records, CARRIES)) == []

    def test_a_hole_between_is_not_bridged(self) -> None:
        """What the log shows after the hole is no opening that was seen."""
        records = merged([r for r in dip() if r[0] < 20], off(*CARRIES))
        records += [(20.01, name, 0.0) for name in CARRIES]
        log = make_log(records, end=100, holes=[(19.95, 20.01)])
        states = build_states(log.events, log.segments, log.signals())
        assert common_drop_outs(states, CommonParameters(), EndingParameters(), 0.01).is_empty()

    @pytest.mark.parametrize(("step", "count"), [(0.1, 1), (0.11, 0)])
    def test_coarser_than_a_hand_contactors_alone_show_nothing(self, step: float, count: int) -> None:
        """hand_s = 0.1 s; held for long on both sides."""
        review = reviewed(dip(held=25), CARRIES, step_s=step)
        assert len(spans(NAME, review)) == count
        why = review.not_assessed.filter(pl.col("pattern") == NAME)["why"].to_list()
        assert why == ([] if count else ["not_resolvable"])

    def test_a_coarse_step_with_the_supply_in_the_log_still_shows_it(self) -> None:
        review = reviewed(merged(dip(held=25), supply((20, 24))), CARRIES, step_s=1.0)
        assert spans(NAME, review) == [(at(20), at(24), "certain")]

    @pytest.mark.parametrize(("limits_failing", "certain"), [(2, False), (4, True)])
    def test_at_a_coarse_step_more_must_fall_together(self, limits_failing: int, certain: bool) -> None:
        """Running 200 s in all: 20 runs of 10 s and no change of inputs else. At 1 s, n + 1 = 21 openings and r = 1 /
        200 s: 21 * (1/200)^k is below 0.01 from k = 2 on; with 20 changes of inputs, r = 21/200: from k = 4 on."""
        ways = ("hoist.lower.limit", "trolley.left.limit", "trolley.right.limit", "bridge.forward.limit")
        work = merged(*(run(100.0 * n, 100.0 * n + 10) for n in range(1, 20)))
        noise = merged(*(on("bridge.reverse.limit", 100.0 * n + 50, 100.0 * n + 52) for n in range(1, 21)))
        failing = [on(name, 20, 24) for name in ways[:limits_failing]]
        quiet, busy = (
            reviewed(merged(run(10, 20), work, *more, *failing), (*CARRIES, *ways), step_s=1.0)
            for more in ([], [noise])
        )
        assert len(spans(NAME, quiet)) == 1
        assert len(spans(NAME, busy)) == int(certain)
        assert found(NAME, quiet)["limit"].to_list() == [3.0]

    def test_the_share_of_false_alarms_can_be_changed(self) -> None:
        machine = limits(common_false_alarm=1e-6)
        assert spans(NAME, reviewed(dip(), CARRIES, machine))[0][2] == "possible"


def test_what_begins_or_ends_in_it_is_nothing_else() -> None:
    """Commands fall with it and come back with it, and the controller waits until they are released."""
    records = merged(
        run(10, 20, command=(9.9, 20.0)),
        run(12, 20, "left", motion="trolley", command=(11.9, 20.0)),
        supply((20.0, 20.6)),
        on("hoist.raise.command", 20.6, 24),
        on("trolley.left.command", 20.6, 24),
    )
    assert names(reviewed(records, CARRIES)) == [NAME]


def test_a_supply_that_flickers_is_no_chatter() -> None:
    gone = [(20.0, 20.1), (20.25, 20.35), (20.5, 20.6)]
    closed = [(10.0, 20.0), (20.12, 20.25), (20.37, 20.5), (20.62, 26.0)]
    contacts = [[(a, f"{m}.contactor", 1.0), (b, f"{m}.contactor", 0.0)] for a, b in closed for m in MOVING]
    held = [on(f"{m}.command", 9.9, 25.9) for m in MOVING]
    assert names(reviewed(merged(*held, *contacts, supply(*gone)), CARRIES)) == [NAME]
    assert names(reviewed(merged(*held, *contacts), CARRIES)) == [NAME]


MOVING = ("hoist.raise", "trolley.left")
