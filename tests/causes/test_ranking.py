"""Priors and signs into probabilities: by hand for single signs, and what damping and outcomes do to them."""

from __future__ import annotations

import math

import pytest

from eventlens.causes.complaints import Complaint, complaints_of
from eventlens.causes.facts import load_knowledge
from eventlens.causes.ranking import OTHER, arguments, checked, damped, rank, ratio_of, step_of
from eventlens.causes.signs import CAP, Sign
from tests.causes.stories import answer, loose_relay, of

KNOWN = load_knowledge()
RELAY = KNOWN.causes["interface_relay"]


@pytest.mark.parametrize("mark", [-3, -2, -1, 1, 2, 3])
def test_a_sign_that_says_nothing_changes_nothing(mark: int) -> None:
    assert ratio_of(mark, 1.0, KNOWN) == pytest.approx(1.0)


def test_evidence_plainly_there_gives_almost_the_ratio_of_its_mark() -> None:
    # three marks: a = 0.8, b = 0.08; (0.8 x 100 + 0.2) / (0.08 x 100 + 0.92)
    assert ratio_of(3, CAP, KNOWN) == pytest.approx(80.2 / 8.92)


def test_evidence_plainly_absent_speaks_against() -> None:
    # (0.8 / 100 + 0.2) / (0.08 / 100 + 0.92)
    assert ratio_of(3, 1 / CAP, KNOWN) == pytest.approx(0.208 / 0.9208)


def test_a_mark_against_turns_it_round() -> None:
    assert ratio_of(-2, CAP, KNOWN) < 0.3
    assert ratio_of(-2, 1 / CAP, KNOWN) > 1


def test_an_unlisted_sign_is_no_argument() -> None:
    assert arguments(RELAY, {"slack_rope": Sign("slack_rope", CAP, "")}, KNOWN) == []


def test_of_one_family_the_second_counts_half_and_the_third_nothing() -> None:
    signs = {key: Sign(key, CAP, "") for key in ("one_direction", "lost_early", "lost_until_repress")}
    ratios = [math.log(ratio_of(RELAY.for_[key], CAP, KNOWN)) for key in ("one_direction", "lost_early")]
    assert damped(arguments(RELAY, signs, KNOWN), KNOWN) == pytest.approx(
        ratios[0] + KNOWN.strengths.further_share * ratios[1]
    )


def test_families_are_multiplied() -> None:
    signs = {key: Sign(key, CAP, "") for key in ("one_direction", "with_shocks")}
    each = [damped(arguments(RELAY, {key: sign}, KNOWN), KNOWN) for key, sign in signs.items()]
    assert damped(arguments(RELAY, signs, KNOWN), KNOWN) == pytest.approx(sum(each))


def losses() -> Complaint:
    review = of(loose_relay())
    return next(one for one in complaints_of(review.subject) if one.key == "losses hoist")


def test_probabilities_add_up_to_one_and_other_is_one_of_them() -> None:
    ranked = answer(of(loose_relay()), "losses hoist").ranked
    assert sum(item.probability for item in ranked) == pytest.approx(1.0)
    assert OTHER in {item.cause for item in ranked}


def test_without_any_sign_the_priors_stand() -> None:
    complaint = losses()
    ranked = {item.cause: item.probability for item in rank(complaint, {}, KNOWN)}
    typical = {name: KNOWN.causes[name] for name in ranked if name != OTHER}
    weights = {name: cause.prior * (1.0 if complaint.typical(cause.marks) else 0.3) for name, cause in typical.items()}
    whole = sum(weights.values())
    known = 1 - KNOWN.strengths.unlisted_prior
    assert ranked["interface_relay"] == pytest.approx(known * weights["interface_relay"] / whole)
    assert ranked[OTHER] == pytest.approx(KNOWN.strengths.unlisted_prior)


def test_signs_against_all_of_them_leave_it_to_another_cause() -> None:
    complaint = losses()
    keys = {key for item in rank(complaint, {}, KNOWN) if item.cause != OTHER for key in KNOWN.causes[item.cause].for_}
    ranked = rank(complaint, {key: Sign(key, 1 / CAP, "") for key in sorted(keys)}, KNOWN)
    assert ranked[0].cause == OTHER


@pytest.mark.parametrize("positive", [True, False])
def test_an_outcome_multiplies_the_odds_of_its_cause_alone(*, positive: bool) -> None:
    step = step_of(RELAY, "relay_exchange")
    assert step is not None
    ratio = step.if_true / step.if_other if positive else (1 - step.if_true) / (1 - step.if_other)
    complaint = losses()
    before = {item.cause: item.probability for item in rank(complaint, {}, KNOWN)}
    after = {
        item.cause: item.probability
        for item in rank(complaint, {}, KNOWN, {("relay_exchange", "interface_relay"): positive})
    }
    odds = (after["interface_relay"] / after[OTHER]) / (before["interface_relay"] / before[OTHER])
    assert odds == pytest.approx(ratio)
    assert after["contactor_coil"] / after[OTHER] == pytest.approx(before["contactor_coil"] / before[OTHER])


def test_no_outcome_says_nothing() -> None:
    assert checked("interface_relay", KNOWN, {}) == 0.0


def test_strong_marks_stand_for_what_is_rare_otherwise() -> None:
    assert KNOWN.strengths.usual == tuple(sorted(KNOWN.strengths.usual, reverse=True))
    assert KNOWN.strengths.usual[2] < KNOWN.strengths.anything
