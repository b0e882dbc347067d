"""What a log of commands and confirmation shows of reversal, start, supply and interference, and its neighbours."""

from __future__ import annotations

import pytest

from eventlens.causes.checks import LEAST, proposals
from eventlens.causes.complaints import Complaint, complaints_of
from eventlens.causes.evidence import signs_of
from eventlens.causes.facts import load_knowledge
from eventlens.causes.ranking import OTHER, Ranked, arguments, damped
from eventlens.causes.signs import CAP, Sign
from eventlens.result import Review
from tests.causes.stories import dropped, of, work
from tests.logs import HOIST, Records, merged, pulse, run

KNOWN = load_knowledge()
FEW = ("hoist.raise.command", "hoist.lower.command", "hoist.brake.released")


def bare(parts: list[Records]) -> Review:
    """The log with nothing but commands and confirmation."""
    return of([[(t, name, value) for t, name, value in merged(*parts) if name in FEW]], carries=FEW)


def asked(review: Review, key: str) -> Complaint:
    return next(one for one in complaints_of(review.subject) if one.key == key)


def signs(review: Review, key: str = "losses hoist") -> dict[str, Sign]:
    return signs_of(asked(review, key))


def refused(pause: float) -> Review:
    """Raise is asked for so long after lower and is not confirmed, six times; each time it works later."""
    parts: list[Records] = [*work(40)]
    for n in range(6):
        t = 1500.0 + 120 * n
        parts += [
            run(t, t + 5, direction="lower"),
            pulse("hoist.raise.command", (t + 5 + pause, t + 8 + pause)),
            run(t + 50, t + 55),
        ]
    return bare(parts)


def test_a_refusal_soon_after_the_other_direction_is_seen_without_contactors() -> None:
    assert signs(refused(1.0), "no_release hoist")["blocked_after_reversal"].factor > 10
    assert signs(refused(20.0), "no_release hoist")["blocked_after_reversal"].factor < 1


def lost(after: float) -> Review:
    """Eight raises of which the confirmation goes so long after it came; the button is let go a second later."""
    parts: list[Records] = [*work(20)]
    for n in range(8):
        t = 1500.0 + 120 * n
        parts += [
            run(t, t + after, command=(t - 0.05, t + after + 1.0), brake=(t + 0.15, t + 0.15 + after)),
            run(t + after + 5, t + after + 9),
        ]
    return bare(parts)


def test_a_loss_is_when_the_confirmation_goes_and_not_when_the_button_is_let_go() -> None:
    assert signs(lost(0.2))["lost_at_start"].factor > 10
    assert signs(lost(0.2))["lost_early"].factor > 10
    assert signs(lost(3.0))["lost_at_start"].factor < 0.1
    assert signs(lost(3.0))["lost_spread"].factor > 10


def again(after: float) -> Review:
    """After each of eight losses raise is pressed in vain, so long afterwards."""
    parts: list[Records] = [*work(20)]
    for n in range(8):
        t = 1500.0 + 120 * n
        begin = t + 1.6 + after
        parts += [dropped(t), pulse("hoist.raise.command", (begin, begin + 2.5)), run(t + 60, t + 65)]
    return of(parts)


def test_a_refusal_belongs_to_the_loss_for_a_quarter_of_a_minute() -> None:
    assert signs(again(4.0))["refused_after_loss"].factor > 10
    assert signs(again(30.0))["refused_after_loss"].factor < 0.5


def gapped(sets: float) -> Review:
    """Ten gaps of 0.1 s in the command; the confirmation goes so long after the command, and comes back."""
    parts: list[Records] = [*work(40)]
    for n in range(10):
        t = 1500.0 + 60 * n
        parts += [
            pulse("hoist.raise.command", (t, t + 2.0), (t + 2.1, t + 4.0)),
            pulse("hoist.brake.released", (t + 0.2, t + 2.0 + sets), (t + 2.4, t + 4.1)),
        ]
    return bare(parts)


def test_a_confirmation_that_goes_with_the_command_is_the_supply_and_one_that_follows_is_not() -> None:
    together, later = (signs(gapped(sets), "commands")["all_fall_together"].factor for sets in (0.0, 0.08))
    assert together > 10
    assert later < 0.1
    leading = {sets: gapped(sets).causes.answers for sets in (0.0, 0.08)}
    first = {sets: next(a for a in found if a.complaint == "commands").first.cause for sets, found in leading.items()}
    assert first[0.0] in {"supply_dip", "common_terminal", "collector_gap"}
    assert first[0.08] in {"pendant_cable", "pendant_button"}


def pulsed(apart: float) -> Review:
    """Twelve pulses of 0.05 s on two commands, so far from a press of the same button."""
    parts: list[Records] = [*work(20)]
    for n in range(12):
        t, name = 1500.0 + 60 * n, f"hoist.{('raise', 'lower')[n % 2]}.command"
        parts.append(pulse(name, (t, t + 0.05), (t + 0.05 + apart, t + 3.0 + apart)))
    return bare(parts)


def test_pulses_that_come_out_of_nothing_have_no_contact_as_their_cause() -> None:
    found = pulsed(5.0)
    assert signs(found, "commands")["pulses_on_many"].factor == CAP
    assert next(one for one in found.causes.answers if one.complaint == "commands").first.cause == OTHER
    assert signs(pulsed(0.1), "commands")["pulses_on_many"].factor < 1  # gaps of a held button


def elsewhere(losses: int) -> Review:
    """Eight losses of the hoist, and some of the bridge."""
    bridge = (
        "bridge.forward.contactor",
        "bridge.forward.command",
        "bridge.reverse.contactor",
        "bridge.reverse.command",
    )
    parts: list[Records] = [*work(20), *(dropped(1500.0 + 120 * n) for n in range(8))]
    for n in range(20):
        t, end = 2600.0 + 30 * n, 0.6 if n < losses else 4.0
        parts.append(run(t, t + end, motion="bridge", direction="forward", command=(t - 0.05, t + max(end, 1.6))))
    return of(parts, carries=(*HOIST, *bridge))


def test_what_befalls_the_other_motions_too_is_no_part_of_one() -> None:
    assert signs(elsewhere(8))["other_motions_too"].factor > 10
    assert signs(elsewhere(0))["other_motions_too"].factor < 1


def blinks(away: float) -> Review:
    """Eight times the feedback goes for so long under a held command; the brake stays released."""
    parts: list[Records] = [*work(20)]
    for n in range(8):
        t = 1500.0 + 60 * n
        parts += [
            pulse("hoist.raise.command", (t, t + 5)),
            pulse("hoist.raise.contactor", (t + 0.05, t + 2.0), (t + 2.0 + away, t + 5.05)),
            pulse("hoist.brake.released", (t + 0.2, t + 5.15)),
        ]
    return of(parts)


def test_a_blink_shorter_than_a_brake_sets_contradicts_nothing() -> None:
    assert signs(blinks(2.0))["feedback_contradicts"].factor > 10
    assert signs(blinks(0.2))["feedback_contradicts"].factor < 1


@pytest.mark.parametrize(("cause", "more"), [("main_contact_weld", True), ("release_switch_stuck", False)])
def test_a_switch_does_not_know_the_direction_and_a_contactor_has_one(cause: str, *, more: bool) -> None:
    found = arguments(KNOWN.causes[cause], {"one_direction": Sign("one_direction", CAP, "")}, KNOWN)
    assert [one.speaks_for for one in found] == [more]


def test_what_speaks_against_is_no_repetition_of_what_speaks_for() -> None:
    """Of one family a plain sign against counts in full beside two for it."""
    cause = KNOWN.causes["brake_coil"]
    for_ = {key: Sign(key, CAP, "") for key in ("no_release", "no_release_hot")}
    against = {"release_step": Sign("release_step", CAP, "")}
    each = [damped(arguments(cause, part, KNOWN), KNOWN) for part in (for_, against)]
    assert damped(arguments(cause, for_ | against, KNOWN), KNOWN) == pytest.approx(sum(each))


def test_a_cause_that_seems_certain_is_confirmed_before_parts_are_ordered() -> None:
    """At 0.99 the fall of the entropy alone is below what is worth a hand; it is looked at all the same."""
    ranked = [Ranked("pendant_cable", 0.99, ()), Ranked("pendant_button", 0.01, ())]
    offered = proposals("commands", ranked, KNOWN, {})
    assert offered[0].cause == "pendant_cable"
    assert offered[0].gain > LEAST
    confirmed = proposals("commands", ranked, KNOWN, {("pendant_cores", "pendant_cable"): True})
    assert all(one.cause != "pendant_cable" or one.gain < offered[0].gain for one in confirmed)
