"""Evidence from small logs: the case that holds, and its nearest neighbour in which it does not."""

from __future__ import annotations

import pytest

from eventlens.causes.complaints import Complaint, complaints_of
from eventlens.causes.evidence import FAMILIES, signs_of
from eventlens.causes.facts import load_knowledge
from eventlens.causes.signs import Sign
from eventlens.machine import Machine
from eventlens.result import Review
from tests.causes.stories import dropped, of, work
from tests.logs import Records, merged, pulse, run
from tests.patterns.helpers import reviewed

KNOWN = load_knowledge()


def complaint(review: Review, key: str) -> Complaint:
    return next(one for one in complaints_of(review.subject) if one.key == key)


def signs(review: Review, key: str) -> dict[str, Sign]:
    return signs_of(complaint(review, key))


def rich() -> Review:
    """Something of many kinds, so that many families have something to say."""
    parts: list[Records] = [
        *work(60),
        *(dropped(115.0 + n * 120) for n in range(6)),
        *(run(2500 + 30 * n, 2505 + 30 * n, brake=(3995, 3995)) for n in range(2)),
        pulse("hoist.raise.command", (2700, 2702), (2702.1, 2704), (2704.1, 2706)),
        pulse("overload.trip", (2800, 2803)),
        *(run(2900 + 30 * n, 2903 + 30 * n, motion="bridge", direction="forward") for n in range(10)),
    ]
    carries = ("bridge.forward.contactor", "bridge.forward.command", "bridge.reverse.contactor")
    return of(parts, carries=(*work_signals(), *carries, "supply.control"))


def work_signals() -> tuple[str, ...]:
    from tests.logs import HOIST

    return HOIST


def test_every_sign_is_known_and_belongs_to_the_family_that_gives_it() -> None:
    review = rich()
    seen = set()
    for one in complaints_of(review.subject):
        for family, read in FAMILIES.items():
            for sign in read(one):
                assert KNOWN.evidence[sign.key].family == family
                assert sign.text
                seen.add(family)
    assert seen >= {"losses", "commands", "brake", "contactors", "limits", "use", "supply", "record"}


def test_no_family_gives_the_same_evidence_twice() -> None:
    for one in complaints_of(rich().subject):
        for read in FAMILIES.values():
            keys = [sign.key for sign in read(one)]
            assert len(keys) == len(set(keys))


def test_losses_in_one_direction_are_held_against_its_running_time() -> None:
    one_sided = [
        *(part for n, part in enumerate(work(100)) if n % 2 == 0),
        *(dropped(115.0 + n * 180) for n in range(8)),
    ]
    both = [*work(100), *(dropped(115.0 + n * 180) for n in range(8))]
    assert signs(of(both), "losses hoist")["one_direction"].factor > 10
    only_raised = signs(of(one_sided), "losses hoist").get("one_direction")
    assert only_raised is None  # nothing was lowered: the direction says nothing


def test_early_losses_are_held_against_the_time_that_runs_spend_there() -> None:
    late = [
        *work(60),
        *(run(115.0 + 180 * n, 119.0 + 180 * n, command=(114.95 + 180 * n, 121.0 + 180 * n)) for n in range(8)),
    ]
    early = [*work(60), *(dropped(115.0 + n * 180) for n in range(8))]
    assert signs(of(early), "losses hoist")["lost_early"].factor > 10
    assert signs(of(late), "losses hoist")["lost_early"].factor < 0.2


def flickers(length: float, runs_on: bool) -> Review:
    parts: list[Records] = [*work(60), *(dropped(3000.0 + n * 60) for n in range(4))]
    for n in range(6):
        t = 2000.0 + 60 * n
        end = t + (6 if runs_on else 2 + length)
        spans = {"hoist.raise.command": [(t - 0.05, t + 5.9)], "hoist.raise.contactor": [(t, end)]}
        spans["hoist.brake.released"] = (
            [(t + 0.15, t + 2), (t + 2 + length, end + 0.1)] if runs_on else [(t + 0.15, t + 2)]
        )
        parts += [pulse(name, *own)[1:] for name, own in spans.items()]
    return of(parts)


@pytest.mark.parametrize(("length", "holds"), [(0.08, True), (0.2, False)])
def test_a_flicker_is_short_and_the_motion_runs_on(length: float, *, holds: bool) -> None:
    sign = signs(flickers(length, runs_on=True), "losses hoist")["lost_flicker"]
    assert (sign.factor > 1) is holds


def test_a_loss_that_stops_the_motion_is_no_flicker() -> None:
    assert signs(flickers(0.08, runs_on=False), "losses hoist")["lost_flicker"].factor < 1


def test_losses_during_another_motion_are_held_against_the_time_it_runs() -> None:
    carries = (*work_signals(), "bridge.forward.contactor", "bridge.forward.command", "bridge.reverse.contactor")
    seldom = [run(114.0 + n * 360, 117.0 + n * 360, motion="bridge", direction="forward") for n in range(9)]
    losses = [*work(100), *(dropped(115.0 + n * 360) for n in range(9))]
    always = [run(50.0, 3900.0, motion="bridge", direction="forward")]
    assert signs(of([*losses, *seldom], carries=carries), "losses hoist")["with_other_motion"].factor > 10
    steady = signs(of([*losses, *always], carries=carries), "losses hoist")["with_other_motion"]
    assert steady.factor <= 1


def test_a_supply_event_beside_each_is_seen_and_none_is_absent_only_if_logged() -> None:
    losses = [*work(60), *(dropped(115.0 + n * 180) for n in range(6))]
    dips = pulse(
        "supply.control", (1, 115.5), (115.7, 295.5), (295.7, 475.5), (475.7, 655.5), (655.7, 835.5), (835.7, 3999)
    )
    near = [*work(60), *(dropped(115.0 + n * 180) for n in range(6)), dips]
    assert "supply_event" not in signs(of(losses), "losses hoist")
    quiet = signs(of([*losses, pulse("supply.control", (1, 3999))]), "losses hoist")
    assert quiet["supply_event"].factor < 1
    assert any(
        one.signs and "supply_event" in {s.key for s in one.signs if s.factor > 1} for one in of(near).causes.answers
    )


def trips(offset: float, runs: int = 8) -> Review:
    """Overload trips so long after the start of a raise."""
    parts: list[Records] = [*work(40)]
    for n in range(runs):
        t = 1500.0 + 60 * n
        parts += [
            run(t, t + offset + 0.05, command=(t - 0.05, t + offset + 1)),
            pulse("overload.trip", (t + offset, t + offset + 3))[1:],
        ]
    return of(parts)


def test_trips_at_once_are_early_and_later_ones_are_well_into_the_lift() -> None:
    early, late = signs(trips(0.6), "overload"), signs(trips(3.0), "overload")
    assert early["overload_early"].factor > 10 > 1 > early["overload_mid_lift"].factor
    assert late["overload_mid_lift"].factor > 10 > 1 > late["overload_early"].factor


def test_without_load_the_load_at_a_trip_is_unknown() -> None:
    assert "overload_when_light" not in signs(trips(3.0), "overload")


def test_trips_with_a_light_load_are_seen_by_the_load() -> None:
    machine = Machine.model_validate({"machine": {"id": "SAW-3", "group": "M5", "rated_load_kg": 3200}})
    parts: list[Records] = [*work(40), [(1.0, "load.kg", 600.0)]]
    for n in range(8):
        t = 1500.0 + 60 * n
        parts += [run(t, t + 3.05, command=(t - 0.05, t + 4)), pulse("overload.trip", (t + 3, t + 6))[1:]]
    found = signs(reviewed(merged(*parts), machine=machine), "overload")
    assert found["overload_when_light"].factor > 10
    assert found["load_high"].factor < 0.2


def refused(after: float, n: int = 6) -> Review:
    """Lower is refused so long after a raise."""
    parts: list[Records] = [*work(40)]
    for k in range(n):
        t = 1500.0 + 60 * k
        parts += [run(t, t + 4), pulse("hoist.lower.command", (t + 4 + after, t + 6 + after))[1:]]
    return of(parts)


def test_refusals_after_the_other_direction_are_held_against_all_presses() -> None:
    assert signs(refused(1.0), "no_start hoist")["blocked_after_reversal"].factor > 10
    assert signs(refused(20.0), "no_start hoist")["blocked_after_reversal"].factor < 1


def test_a_limit_that_does_not_stop_its_direction_was_passed() -> None:
    passed = [
        *work(20),
        *(
            merged(run(1500 + 60 * n, 1506 + 60 * n), pulse("hoist.raise.limit", (1504 + 60 * n, 1509 + 60 * n))[1:])
            for n in range(3)
        ),
    ]
    stopped = [
        *work(20),
        *(
            merged(
                run(1500 + 60 * n, 1504.1 + 60 * n, command=(1499.95 + 60 * n, 1506 + 60 * n)),
                pulse("hoist.raise.limit", (1504 + 60 * n, 1509 + 60 * n))[1:],
            )
            for n in range(3)
        ),
    ]
    assert signs(of(passed), "limits hoist")["limit_passed"].factor > 10
    assert signs(of(stopped), "limits hoist")["limit_passed"].factor < 1
