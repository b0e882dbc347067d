"""Whole diagnoses of small logs: one fault each, its neighbours, what cannot be decided, and that reasons are real."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from eventlens import signals
from eventlens.causes.complaints import complaints_of
from eventlens.causes.diagnosis import _dangers, splitters
from eventlens.causes.evidence import signs_of
from eventlens.causes.facts import load_knowledge
from eventlens.causes.ranking import OTHER, Ranked, rank
from eventlens.errors import EventlensError
from eventlens.report.text import render
from tests.causes.stories import answer, dropped, loose_relay, of, pulse, work
from tests.logs import merged, run
from tests.patterns.helpers import reviewed


def leading(review: object, complaint: str) -> str:
    return answer(review, complaint).first.cause  # type: ignore[arg-type]


def test_a_machine_in_order_has_no_complaint() -> None:
    review = of(work(100))
    assert review.causes.answers == ()
    assert review.causes.next is None
    assert "Likely causes" not in render(review)


def test_losses_in_one_direction_soon_after_the_release_are_the_relay() -> None:
    found = answer(of(loose_relay()), "losses hoist")
    assert found.first.cause == "interface_relay"
    assert found.count == 14
    assert {argument.sign.key for argument in found.first.for_} >= {"one_direction", "lost_early"}


def test_in_both_directions_it_is_not() -> None:
    parts = [*work(100), *(dropped(115.0 + n * 180, ("raise", "lower")[n % 2]) for n in range(14))]
    relay = {item.cause: item for item in answer(of(parts), "losses hoist").ranked}["interface_relay"]
    assert relay.probability < 0.1
    assert "both_directions" in {argument.sign.key for argument in relay.against}


def test_a_single_loss_is_not_enough_to_be_sure() -> None:
    assert answer(of(loose_relay(1)), "losses hoist").first.probability < 0.6


def test_taking_the_cited_events_away_changes_the_ranking_and_others_do_not() -> None:
    whole = answer(of(loose_relay()), "losses hoist")
    cited = {row for argument in whole.first.for_ for row in argument.sign.rows}
    assert cited
    fewer = answer(of(loose_relay(2)), "losses hoist")
    assert fewer.first.probability < whole.first.probability - 0.1
    healthy = of(loose_relay(runs=76))  # as many ordinary runs less
    assert answer(healthy, "losses hoist").first.probability == pytest.approx(whole.first.probability, abs=0.05)


def test_gaps_faster_than_a_thumb_on_one_button_are_the_button() -> None:
    presses = [
        pulse("hoist.raise.command", *((t, t + 0.12), (t + 0.2, t + 4))) for t in (10.0 + 40 * n for n in range(8))
    ]
    found = of([*presses, *work(60, begin=700.0)])
    assert leading(found, "commands") == "pendant_button"


def test_gaps_on_several_commands_in_mid_press_are_the_cable() -> None:
    names = ("hoist.raise.command", "hoist.lower.command", "trolley.left.command", "bridge.forward.command")
    presses = [
        pulse(names[n % 4], (t, t + 2.0), (t + 2.1, t + 4)) for n, t in enumerate(10.0 + 40 * k for k in range(12))
    ]
    found = of([*presses, *work(60, begin=700.0)])
    assert leading(found, "commands") == "pendant_cable"


@pytest.mark.parametrize(("gap", "complains"), [(0.14, False), (0.12, True), (0.018, False)])
def test_a_gap_counts_from_the_bounce_to_the_thumb_with_the_log_step(gap: float, *, complains: bool) -> None:
    presses = [pulse("hoist.raise.command", (t, t + 2.0), (t + 2.0 + gap, t + 4)) for t in (10.0, 50.0, 90.0)]
    found = of(presses).causes.answers
    assert any(one.complaint == "commands" for one in found) is complains


def test_no_confirmation_at_all_cannot_be_decided_without_current_or_height() -> None:
    parts = [
        run(500.0 * n + 20, 500.0 * n + 21.5, command=(500.0 * n + 19.95, 500.0 * n + 23), brake=(3990, 3990))
        for n in range(1, 7)
    ]
    found = answer(of([*work(14), *parts]), "no_release hoist")
    assert len(found.undecided) > 1
    assert "hoist.motor.current_a" in found.would_split


def test_a_contactor_that_stays_on_takes_the_machine_out_of_use_whatever_else() -> None:
    stuck = [run(100 + 60 * n, 106 + 60 * n, command=(99.95 + 60 * n, 103 + 60 * n)) for n in range(3)]
    found = of([*stuck, *work(20, begin=1000)])
    assert "main_contact_weld" in dict(found.causes.out_of_use)
    assert "out of use" in render(found)


def test_a_missing_timer_is_the_timer() -> None:
    fast = [
        merged(
            run(100 + 20 * n, 106 + 20 * n),
            pulse("hoist.fast.command", (100 + 20 * n, 105 + 20 * n)),
            pulse("hoist.fast.contactor", (100.04 + 20 * n, 105 + 20 * n)),
        )
        for n in range(20)
    ]
    found = answer(of(fast), "speed hoist")
    assert found.first.cause == "speed_timer"
    assert found.first.probability > 0.7


def test_the_next_check_is_made_on_the_machine_and_a_dead_one_if_it_can_be() -> None:
    diagnosis = of(loose_relay()).causes
    assert diagnosis.next is not None
    check = diagnosis.knowledge.checks[diagnosis.next.check]
    assert check.state not in ("desk", "live")
    assert check.cautions


def test_a_negative_check_lowers_its_cause_and_is_not_proposed_again() -> None:
    review = of(loose_relay())
    again = review.with_checks(["relay_seat=negative", "relay_exchange=negative"])
    before, after = (
        {item.cause: item.probability for item in answer(one, "losses hoist").ranked} for one in (review, again)
    )
    assert after["interface_relay"] < before["interface_relay"]
    assert again.causes.next is not None
    assert again.causes.next.check not in {"relay_seat", "relay_exchange"}


def test_a_positive_check_settles_it() -> None:
    again = of(loose_relay()).with_checks(["relay_exchange=positive"])
    assert answer(again, "losses hoist").first.probability > 0.9


@pytest.mark.parametrize("text", ["relay_seat", "relay_seat=maybe", "relay_saet=negative", "relay_seat:timer=positive"])
def test_what_is_not_a_check_is_refused_in_one_sentence(text: str) -> None:
    with pytest.raises(EventlensError, match=r"wanted .* got "):
        of(loose_relay(1)).with_checks([text])


def test_the_command_clears_the_button_only_where_it_is_read_at_the_input() -> None:
    review = of(loose_relay())
    assert "command_steady" not in {sign.key for sign in answer(review, "losses hoist").signs}
    log = review.log.__class__(**{**review.log.__dict__, "commands_from": "input"})
    known = reviewed_again(review, log)
    assert "command_steady" in {sign.key for sign in answer(known, "losses hoist").signs}


def reviewed_again(review: object, log: object) -> object:
    from eventlens.wiring import review_log

    return review_log(log, review.machine)  # type: ignore[attr-defined, arg-type]


def test_without_confirmation_logged_its_flicker_is_unknown_not_absent() -> None:
    parts = [[r for r in part if "brake" not in r[1]] for part in loose_relay()]
    few = ("hoist.raise.command", "hoist.lower.command", "hoist.raise.contactor", "hoist.lower.contactor")
    found = answer(reviewed(merged(*parts), carries=few), "losses hoist")
    assert "lost_flicker" not in {sign.key for sign in found.signs}


def test_every_reason_has_words_and_numbers() -> None:
    for one in of(loose_relay()).causes.answers:
        for item in one.ranked:
            assert item.cause == OTHER or item.probability > 0
            assert all(argument.sign.text for argument in item.arguments)


def test_the_json_names_cause_probability_reasons_and_next_check() -> None:
    import json

    content = json.loads(of(loose_relay()).to_json())
    first = next(one for one in content["causes"] if one["complaint"] == "losses hoist")
    assert {"cause", "probability", "for", "against", "checks"} <= set(first)
    assert first["for"][0]["rows"]
    assert content["next_check"]["cautions"]
    assert pl.DataFrame(content["causes"]).height


def test_what_would_split_any_causes_is_named_by_signals_that_exist() -> None:
    knowledge = load_knowledge()
    complaint = complaints_of(of(loose_relay()).subject)[0]
    for entry in knowledge.undecided.values():
        found = splitters(list(entry.causes), {}, knowledge, complaint)
        assert found
        assert all(" " in name or name in signals.ALL for name in found), found


@pytest.mark.parametrize(
    "text",
    [
        "further_share = 1.0",
        "power = 0.5",
        "unlisted_prior = 0.5",
        "most_of_a_family = 1",
        "for = [1.5, 2.0, 3.0]",
        "against = [0.9, 0.8, 0.7]",
    ],
)
def test_a_users_file_changes_every_weight(text: str, tmp_path: Path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text(f"[strengths]\n{text}\n", encoding="utf-8")
    complaint = next(one for one in complaints_of(of(loose_relay()).subject) if one.key == "losses hoist")
    signs = signs_of(complaint)
    usual, changed = (rank(complaint, signs, load_knowledge(path)) for path in (None, mine))
    assert [item.probability for item in usual] != [item.probability for item in changed]


def test_a_danger_plainly_seen_takes_the_machine_out_of_use_whatever_its_rank() -> None:
    """A lining that wears is a danger only where the hook runs on; there even as the last of the list."""
    knowledge = load_knowledge()
    found = answer(of(loose_relay()), "losses hoist")
    for_it = next(argument for argument in found.first.arguments if argument.speaks_for)
    last = Ranked("lining_gap", 0.001, (for_it,))

    def dangers(*certain: str) -> list[str]:
        shown = replace(found, ranked=(*found.ranked, last), certain=certain, signs=())
        return [name for name, _ in _dangers([shown], knowledge)]

    assert "lining_gap" in dangers("overrun")
    assert "lining_gap" not in dangers("drop_out")
