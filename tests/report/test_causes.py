"""The section on causes: what is said of each, what takes the machine out of use, and the check with its cautions."""

from __future__ import annotations

from eventlens.report.causes import complaints, dangers, next_check
from eventlens.report.text import render
from tests.causes.stories import loose_relay, of, work
from tests.logs import run


def test_each_cause_has_its_share_and_reasons_for_and_against() -> None:
    told = complaints(of(loose_relay()))[0]
    assert told.asks == "Why does the hoist stop by itself? (14 times)"
    first = told.causes[0]
    assert first.share.endswith("%")
    assert "relay" in first.title
    assert {side for cause in told.causes for side, _ in cause.reasons} == {"for", "against"}
    assert any("14 of 14 in raise" in text for _, text in first.reasons)


def test_no_share_claims_certainty() -> None:
    settled = of(loose_relay()).with_checks(["relay_exchange=positive", "relay_seat=positive"])
    assert settled.causes.answers[0].first.probability > 0.99
    assert complaints(settled)[0].causes[0].share == "99%"


def test_the_next_check_says_state_and_outcomes_and_carries_its_cautions() -> None:
    review = of(loose_relay())
    check = next_check(review)
    assert check is not None
    assert [label for label, _ in check.facts] == ["name", "settles", "takes", "state", "positive", "negative"]
    text = " ".join(render(review).replace(" ! ", " ").split())
    assert check.cautions
    for caution in check.cautions:
        assert " ".join(caution.split()) in text


def test_a_machine_in_order_is_sent_to_nobody() -> None:
    review = of(work(40))
    assert next_check(review) is None
    assert "Next check" not in render(review)


def test_what_is_dangerous_is_said_with_its_reason() -> None:
    stuck = [run(100 + 60 * n, 106 + 60 * n, command=(99.95 + 60 * n, 103 + 60 * n)) for n in range(3)]
    review = of([*stuck, *work(20, begin=1000)])
    assert any("cannot be ruled out: " in text for text in dangers(review))
