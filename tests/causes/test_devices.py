"""What tells a device that did its work from a loose contact, and pulses on many inputs: fires, and its neighbour."""

from __future__ import annotations

import pytest

from eventlens.causes.complaints import Complaint, complaints_of
from eventlens.causes.diagnosis import _told_apart
from eventlens.causes.evidence import signs_of
from eventlens.causes.facts import load_knowledge
from eventlens.causes.ranking import OTHER, Ranked, merged, rank
from eventlens.causes.signs import CAP, Sign
from eventlens.result import Review
from tests.causes.stories import dropped, loose_relay, of, work
from tests.logs import HOIST, Records, pulse, run
from tests.logs import merged as join

KNOWN = load_knowledge()
FEW = ("hoist.raise.command", "hoist.lower.command", "hoist.brake.released")


def complaint(review: Review, key: str) -> Complaint:
    return next(one for one in complaints_of(review.subject) if one.key == key)


def signs(review: Review, key: str = "losses hoist") -> dict[str, Sign]:
    return signs_of(complaint(review, key))


def cut(then: str, after: float = 4.0, carries: tuple[str, ...] = HOIST) -> Review:
    """Eight raises that end by themselves, and what is driven so long afterwards."""
    parts: list[Records] = [*work(20)]
    for n in range(8):
        t = 1500.0 + 180 * n
        parts += [dropped(t), run(t + 1.6 + after, t + 5.6 + after, direction=then)]
    return of(parts, carries=carries)


def test_a_device_turns_people_back_and_a_loose_contact_lets_them_go_on() -> None:
    assert signs(cut("lower"))["turned_back"].factor > 10
    assert signs(cut("raise"))["turned_back"].factor < 0.1


def few(then: str) -> list[str]:
    """Complaints where neither contactors nor limits nor the overload device are logged."""
    parts: list[Records] = [*work(20)]
    for n in range(8):
        t = 1500.0 + 180 * n
        parts += [dropped(t), run(t + 5.6, t + 9.6, direction=then)]
    bare = [(t, name, value) for t, name, value in join(*parts) if name in FEW]
    return [one.key for one in complaints_of(of([bare], carries=FEW).subject)]


def test_without_the_devices_in_the_log_their_work_is_a_question_of_its_own() -> None:
    assert "ends_raise hoist" in few("lower")
    assert "losses hoist" not in few("lower")
    assert "losses hoist" in few("raise")
    assert "ends_raise hoist" not in few("raise")


def test_with_the_devices_in_the_log_it_is_not() -> None:
    assert "ends_raise hoist" not in [one.key for one in complaints_of(cut("lower").subject)]


def test_a_second_try_that_is_lost_as_well_says_nothing() -> None:
    parts: list[Records] = [*work(20)]
    for n in range(8):
        t = 1500.0 + 180 * n
        parts += [dropped(t), dropped(t + 5.0), run(t + 10.0, t + 14.0, direction="lower")]
    found = signs(of(parts))["turned_back"]
    assert found.text.startswith("after 8 of 8 ")


def fast(*, alone: bool) -> Review:
    """Fast goes for a second under its command: the motion runs on, or its contactor goes at the same time."""
    parts: list[Records] = [*work(20)]
    for n in range(5):
        t = 1500.0 + 60 * n
        parts += [
            run(t, t + (8.0 if alone else 4.0), command=(t - 0.05, t + 8.0)),
            pulse("hoist.fast.command", (t + 1.0, t + 7.9))[1:],
            pulse("hoist.fast.contactor", (t + 1.5, t + 4.0), *([(t + 5.0, t + 7.9)] if alone else []))[1:],
        ]
    return of([*parts, *(dropped(3000.0 + 60 * n) for n in range(3))], carries=(*HOIST, *FAST))


FAST = ("hoist.fast.command", "hoist.fast.contactor", "hoist.raise.slowdown", "hoist.lower.slowdown")


def of_speed(review: Review) -> float:
    return signs(review)["fast_lost"].factor


def test_fast_that_goes_with_its_direction_was_not_lost_alone() -> None:
    assert of_speed(fast(alone=True)) > 10
    assert of_speed(fast(alone=False)) < 1


def pulses(*names: str) -> Review:
    """Drop-outs, and inputs that come on for 0.05 s, each by itself."""
    parts: list[Records] = [*work(20), *(dropped(1500.0 + 60 * n) for n in range(4))]
    parts += [pulse(name, (2000.0 + 10 * n, 2000.05 + 10 * n))[1:] for n, name in enumerate(names)]
    carries = (*HOIST, *names, "bridge.forward.command", "bridge.forward.limit", "hoist.raise.limit")
    return of(parts, carries=tuple(dict.fromkeys(carries)))


def test_pulses_of_several_motions_are_of_no_single_part() -> None:
    many = pulses("hoist.raise.limit", "bridge.forward.command", "bridge.forward.limit")
    assert signs(many)["pulses_on_many"].factor == CAP
    one_motion = pulses("hoist.raise.limit", "hoist.lower.command", "hoist.raise.command")
    assert signs(one_motion)["pulses_on_many"].factor < 1


@pytest.mark.parametrize(("length", "holds"), [(0.08, True), (0.4, False)])
def test_a_limit_that_acts_for_a_moment_flickers(length: float, *, holds: bool) -> None:
    """Nothing drives into a limit and out of it in less than 0.1 s (judgement)."""
    parts: list[Records] = [*work(20), *(dropped(1500.0 + 60 * n) for n in range(4))]
    parts += [pulse("hoist.raise.limit", (2000.0 + 60 * n, 2000.0 + 60 * n + length))[1:] for n in range(5)]
    sign = signs(of(parts, carries=(*HOIST, "hoist.raise.limit")))["limit_flicker"]
    assert (sign.factor == CAP) is holds


def test_causes_that_cannot_be_told_apart_stand_where_their_sum_puts_them() -> None:
    """Commands and brake alone: 'raise runs that end by themselves' may be the work of five causes together."""
    review = cut("lower", carries=FEW)
    losses = complaint(review, "ends_raise hoist")
    group = next(entry.causes for entry in merged(losses, KNOWN) if "snatch" in entry.causes)
    ranked = rank(losses, {"turned_back": Sign("turned_back", CAP, "")}, KNOWN)
    sums = {True: 0.0, False: 0.0}
    for item in ranked:
        sums[item.cause in group] += item.probability
    assert sums[True] > max(item.probability for item in ranked if item.cause not in group)
    assert ranked[0].cause in group
    heads = [item.cause in group for item in ranked[: len(group)]]
    assert all(heads)


def test_a_log_of_everything_merges_nothing_of_the_devices() -> None:
    carries = (*HOIST, "hoist.raise.limit", "hoist.lower.limit", "overload.trip", "rope.slack")
    losses = complaint(of(loose_relay(), carries=carries), "losses hoist")
    assert not any("snatch" in entry.causes or "slack_rope" in entry.causes for entry in merged(losses, KNOWN))


def test_a_sign_of_which_no_candidate_speaks_leaves_other_where_it_is() -> None:
    losses = complaint(of(loose_relay()), "losses hoist")

    def other(found: list[Ranked]) -> float:
        return next(item.probability for item in found if item.cause == OTHER)

    plain = other(rank(losses, {}, KNOWN))
    assert other(rank(losses, {"limit_often": Sign("limit_often", CAP, "")}, KNOWN)) == pytest.approx(plain)
    assert other(rank(losses, {"lost_flicker": Sign("lost_flicker", CAP, "")}, KNOWN)) != pytest.approx(plain)


def unconfirmed(*, busy: bool) -> Review:
    """Sixty runs, the last dozen long; five in a row are not confirmed, just after them or after three hours."""
    parts: list[Records] = [run(100.0 + 300 * n, 104.0 + 300 * n) for n in range(12)]
    parts += [run(4000.0 + 60 * n, 4004.0 + 60 * n + 20 * (n >= 36)) for n in range(48)]
    begin = 6900.0 if busy else 17000.0
    parts += [run(begin + 20 * n, begin + 4 + 20 * n, brake=(19000.0, 19000.0)) for n in range(5)]
    parts.append(run(20000.0, 20004.0))
    return of(parts)


def test_failed_tries_are_no_work_that_warms_a_brake() -> None:
    """After a rest five tries in a row are none of them hot, however many of them there were before."""
    assert signs(unconfirmed(busy=True), "no_release hoist")["no_release_hot"].factor > 2
    assert signs(unconfirmed(busy=False), "no_release hoist")["no_release_hot"].factor <= 1


def with_bridge(*, long: bool) -> Review:
    """Drop-outs at the start, all while the bridge runs, as half of the starts; other runs are long or as short."""
    carries = (*HOIST, "bridge.forward.contactor", "bridge.forward.command", "bridge.reverse.contactor")
    parts: list[Records] = []
    for n in range(40):
        t = 100.0 + 100 * n
        parts.append(run(t, t + (40.0 if long and n % 2 else 5.0)))
        if n % 2 == 0:
            parts.append(run(t - 5, t + 90, motion="bridge", direction="forward"))
            parts.append(run(t + 50, t + 50.2, command=(t + 49.95, t + 52))) if n % 10 == 0 else None
    return of(parts, carries=carries)


def test_what_comes_with_starts_is_held_against_the_starts() -> None:
    """Long runs without the bridge change the running time and not the starts, of which half or more are beside it."""
    short, long = (signs(with_bridge(long=long))["with_other_motion"].factor for long in (False, True))
    assert long == pytest.approx(short, rel=0.05)


@pytest.mark.parametrize(("key", "parted"), [("with_shocks", False), ("one_place", True)])
def test_without_the_signal_that_decides_only_a_strong_sign_parts_causes(key: str, *, parted: bool) -> None:
    """Shocks: two marks for the terminal, none for the collector; one place: three for the collector, one against."""
    group = {"supply_dip", "common_terminal", "collector_gap"}
    found = {key: Sign(key, CAP, "")}
    first = max(group, key=lambda name: KNOWN.causes[name].marks.get(key, 0))
    assert _told_apart(first, group - {first}, found, KNOWN) is parted
