"""The scoring of causes counts as it says: places, Brier score, reliability, groups, checks, points of a scenario."""

from __future__ import annotations

import random
from types import SimpleNamespace
from typing import Any, cast

import pytest

from eventlens.causes.diagnosis import Answer, Diagnosis
from eventlens.causes.facts import load_knowledge
from eventlens.causes.ranking import OTHER, Ranked, step_of
from eventlens.simulation.causes import CAUSES, UNKNOWN
from tests.benchmarks.cause_scores import GROUPS, Case, reliability, report
from tests.benchmarks.cause_walks import MOST, STRATEGIES, updated, walk
from tests.benchmarks.causes import COMPLAINTS, case
from tests.benchmarks.scenario_machines import SETTINGS, simulated
from tests.benchmarks.scenarios import EXPECTED, judge

KNOWN = load_knowledge()


def ranked(**shares: float) -> tuple[Ranked, ...]:
    return tuple(Ranked(name, p, ()) for name, p in sorted(shares.items(), key=lambda item: -item[1]))


def answer(complaint: str, items: tuple[Ranked, ...], undecided: tuple[str, ...] = (), split: Any = ()) -> Answer:
    return cast(
        Answer,
        SimpleNamespace(
            complaint=complaint, count=3, ranked=items, first=items[0], undecided=undecided, would_split=split
        ),
    )


def one(cause: str, **shares: float) -> Case:
    return Case(cause, 0, "losses hoist", tuple((r.cause, r.probability) for r in ranked(**shares)), (), (), {})


def test_every_name_is_known() -> None:
    assert set(CAUSES) == set(KNOWN.causes)
    assert set(COMPLAINTS) == {*CAUSES, *UNKNOWN}
    assert {name for group in GROUPS for name in group} <= set(CAUSES)
    for expected in EXPECTED.values():
        assert {*expected.top, *expected.second} <= set(CAUSES)
        assert expected.check in KNOWN.checks
    assert set(EXPECTED) == set(SETTINGS)


def test_places_and_brier_score_are_counted_by_hand() -> None:
    right = one("interface_relay", interface_relay=0.7, aux_contact=0.2, other=0.1)
    assert (right.first, right.place, right.group_first) == ("interface_relay", 1, True)
    assert right.brier == pytest.approx(0.3**2 + 0.2**2 + 0.1**2)
    wrong = one("aux_contact", interface_relay=0.7, aux_contact=0.2, other=0.1)
    assert (wrong.place, wrong.group_first) == (2, True)
    assert wrong.brier == pytest.approx(0.7**2 + 0.8**2 + 0.1**2)
    absent = one("clock", interface_relay=0.9, other=0.1)
    assert (absent.place, absent.group_first) == (None, False)
    assert absent.brier == pytest.approx(0.9**2 + 0.1**2 + 1.0)  # nothing was left to the right cause
    assert one("zone_permit", other=0.6, supply_dip=0.4).place == 1


def test_reliability_compares_stated_with_observed() -> None:
    cases = [one("snatch", snatch=0.75, speed_timer=0.25), one("speed_timer", snatch=0.75, speed_timer=0.25)]
    assert reliability(cases) == [(0.25, 0.5, 2), (0.75, 0.5, 2)]


def test_the_report_names_confusions_and_silence() -> None:
    silent = Case("clock", 1, None, (), (), (), {}, crash="ValueError: bad")
    lines = report([one("aux_contact", interface_relay=0.8, aux_contact=0.2), silent])
    assert any(line.split() == ["aux_contact", "->", "interface_relay", "1", "of", "1"] for line in lines)
    assert "CRASH clock, seed 1: ValueError: bad" in lines
    assert any(line.startswith("clock") and "(no complaint)" in line for line in lines)


def test_an_outcome_moves_the_odds_of_its_cause_alone() -> None:
    """Relay exchange, positive: odds times 0.85 / 0.03 in the knowledge, and those of the others stay in proportion."""
    before = list(ranked(interface_relay=0.2, contactor_coil=0.5, other=0.3))
    own = step_of(KNOWN.causes["interface_relay"], "relay_exchange")
    assert own is not None
    after = {item.cause: item.probability for item in updated(before, "interface_relay", own, positive=True)}
    assert after["interface_relay"] / after["other"] == pytest.approx(0.2 / 0.3 * own.if_true / own.if_other)
    assert after["contactor_coil"] / after["other"] == pytest.approx(0.5 / 0.3)
    assert sum(after.values()) == pytest.approx(1.0)


@pytest.mark.parametrize("strategy", list(STRATEGIES))
def test_a_walk_ends_at_the_right_cause_or_with_patience(strategy: str) -> None:
    losses = answer("losses hoist", ranked(contactor_coil=0.5, interface_relay=0.3, other=0.2))
    walks = [walk(strategy, losses, "interface_relay", KNOWN, random.Random(seed)) for seed in range(50)]
    assert all(w.checks <= MOST and (w.checks > 0) and w.minutes > 0 for w in walks)
    assert sum(w.settled for w in walks) > 35
    sure = answer("losses hoist", ranked(interface_relay=0.9, other=0.1))
    assert walk(strategy, sure, "interface_relay", KNOWN, random.Random(0)) == (0, 0.0, True)


def diagnosis(one: Answer, check: str, cause: str) -> Diagnosis:
    proposal = SimpleNamespace(check=check, cause=cause, complaint=one.complaint)
    return cast(Diagnosis, SimpleNamespace(answers=(one,), proposals=(proposal,), knowledge=KNOWN))


def test_points_of_a_scenario() -> None:
    expected = EXPECTED["S01"]
    first = answer("losses hoist", ranked(interface_relay=0.6, other=0.4))
    assert judge(expected, diagnosis(first, "relay_exchange", "interface_relay")).whole == 3
    assert judge(expected, diagnosis(first, "control_voltage", "contactor_coil")).whole == 2  # live: a higher risk
    second = answer("losses hoist", ranked(aux_contact=0.6, other=0.4))
    assert judge(expected, diagnosis(second, "relay_seat", "interface_relay")).whole == 2
    assert (
        judge(expected, diagnosis(answer("heat hoist", first.ranked), "relay_exchange", "interface_relay")).whole == 0
    )


def test_where_the_log_cannot_decide_a_confident_first_earns_nothing() -> None:
    expected = EXPECTED["S13"]
    items = ranked(lining_gap=0.6, release_switch_intermittent=0.3, other=0.1)
    sure = answer("no_release hoist", items)
    assert judge(expected, diagnosis(sure, "no_load_run", "brake_coil")).cause == 0
    names = ("lining_gap", "release_switch_intermittent")
    open_ = answer("no_release hoist", items, names, ("hoist.motor.current_a",))
    assert judge(expected, diagnosis(open_, "no_load_run", "brake_coil")).whole == 3
    unhelpful = answer("no_release hoist", items, names, ("rope.slack",))
    assert judge(expected, diagnosis(unhelpful, "no_load_run", "brake_coil")).cause == 0


def test_a_scenario_has_its_numbers() -> None:
    """S01: 14 losses in raise, 0.2 to 0.6 s after the release, the contactor first; none when lowering."""
    log = simulated("S01")
    lost = [run for run in log.runs["hoist"] if run[3] in ("relay", "feedback_lost")]
    assert len(lost) == 14
    assert {run[0] for run in lost} == {"raise"}
    released = [at for at, on in log.tracks["hoist.brake.released"] if on]
    after = [run[2] - min(at for at in released if run[1] <= at <= run[2]) for run in lost]
    assert all(0.2 <= seconds <= 0.62 for seconds in after)


def test_one_log_of_one_cause() -> None:
    """The whole way on one log: loose raise relay, found first or second."""
    found = case(("interface_relay", 0), "full")
    assert found.complaint is not None
    assert found.place is not None
    assert found.place <= 2
    assert set(found.walks) == set(STRATEGIES)
    assert sum(p for _, p in found.ranked) == pytest.approx(1.0)
    assert any(name == OTHER for name, _ in found.ranked)
