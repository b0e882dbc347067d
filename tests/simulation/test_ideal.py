"""Guards the ideal reader by tracks drawn by hand: each definition at its limit, and one cause for one span."""

from __future__ import annotations

import pytest

from eventlens.simulation import ideal
from eventlens.simulation.truth import Span

Pulses = list[tuple[float, float]]


def spans(
    signals: dict[str, Pulses], *, noted: tuple[Span, ...] = (), shifts: tuple[float, ...] = (0.0,)
) -> list[tuple]:
    """(pattern, motion, start, end) of what pulses show; supply on throughout."""
    tracks: dict[str, list[tuple[float, float]]] = {"supply.control": [(0.0, 1.0)]}
    for signal, pulses in signals.items():
        tracks[signal] = [(0.0, 0.0), *((at, value) for a, b in pulses for at, value in ((a, 1.0), (b, 0.0)))]
    return sorted((s.pattern, s.motion, s.start, s.end) for s in ideal.spans(tracks, noted, shifts, 1000.0))


RAISE, COMMAND, BRAKE = "hoist.raise.contactor", "hoist.raise.command", "hoist.brake.released"


def a_run(start: float, end: float, *, release: float = 0.2, apply: float = 0.1) -> dict[str, Pulses]:
    return {COMMAND: [(start - 0.05, end - 0.02)], RAISE: [(start, end)], BRAKE: [(start + release, end + apply)]}


def test_an_ordinary_run_is_nothing() -> None:
    assert spans(a_run(10, 14)) == []


@pytest.mark.parametrize(("release", "found"), [(0.5, []), (0.51, [("brake_release_late", "hoist", 10, 10.51)])])
def test_release(release: float, found: list[tuple]) -> None:
    assert spans(a_run(10, 14, release=release)) == found


@pytest.mark.parametrize(
    ("apply", "found"),
    [
        (0.49, []),
        (0.6, [("brake_apply_late", "hoist", 14, 14.6)]),
        (1.9, [("brake_apply_late", "hoist", 14, 15.9)]),
        (2.5, [("brake_confirmed_at_rest", "hoist", 10.2, 16.5)]),
    ],
)
def test_setting(apply: float, found: list[tuple]) -> None:
    assert spans(a_run(10, 14, apply=apply)) == found


def test_confirmation_lost_in_mid_run_but_not_at_its_end() -> None:
    run = a_run(10, 14) | {BRAKE: [(10.2, 12.0), (12.3, 14.1)]}
    assert spans(run) == [("brake_confirmation_lost", "hoist", 12.0, 12.3)]
    assert spans(a_run(10, 14) | {BRAKE: [(10.2, 12.0), (12.04, 14.1)]}) == []  # a bounce
    held = {COMMAND: [(9.95, 15)], BRAKE: [(10.2, 13.7)]}
    assert spans(a_run(10, 14) | held) == []  # it ended the run: a drop-out


def test_contactor_late_unless_something_explains_it() -> None:
    run = {COMMAND: [(9.5, 14)], RAISE: [(10, 14)], BRAKE: [(10.2, 14.1)]}
    assert spans(run) == [("contactor_late", "hoist", 9.5, 10)]
    assert spans(run | {"stop.emergency": [(8, 9.7)]}) == []
    other = {"hoist.lower.contactor": [(7, 9.2)], "hoist.lower.command": [(7, 9.2)]}
    assert spans(run | other) == []  # 0.3 s before the press: the reversing dwell


def test_contactor_stuck_and_pressed_again() -> None:
    assert spans(a_run(10, 14) | {RAISE: [(10, 17)], BRAKE: [(10.2, 17.1)]}) == [
        ("contactor_stuck", "hoist", 13.98, 17)
    ]
    quick = {COMMAND: [(9.95, 12), (12.5, 14)], RAISE: [(10, 14.02)], BRAKE: [(10.2, 14.1)]}
    assert spans(quick) == []


def test_contactor_without_command() -> None:
    assert spans({COMMAND: [], RAISE: [(10, 11)], BRAKE: [(10.2, 11.1)]}) == [
        ("contactor_uncommanded", "hoist", 10, 11)
    ]
    answered = spans({COMMAND: [(9.6, 9.7)], RAISE: [(10, 11)], BRAKE: [(10.2, 11.1)]})
    assert answered == [("contactor_stuck", "hoist", 9.7, 11)]  # half a second may pass between command and contactor


def test_both_directions_and_no_pause() -> None:
    both = a_run(10, 14) | {"hoist.lower.command": [(13.8, 16)], "hoist.lower.contactor": [(13.9, 16)]}
    both[BRAKE] = [(10.2, 16.1)]
    assert ("opposed_directions", "hoist", 13.9, 14) in spans(both)
    plug = a_run(10, 14) | {"hoist.lower.command": [(13.99, 16)], "hoist.lower.contactor": [(14.1, 16)]}
    plug[BRAKE] = [(10.2, 16.1)]
    assert spans(plug) == [("reversal_without_pause", "hoist", 14, 14.1)]


def test_chatter_of_a_contactor_is_that_alone() -> None:
    toggles = [(10.0, 10.1), (10.2, 10.3), (10.4, 10.5), (10.6, 14.0)]
    run = {COMMAND: [(9.95, 13.98)], RAISE: toggles, BRAKE: [(10.15, 10.25), (10.8, 14.1)]}
    assert spans(run) == [("chatter", "hoist", 10.0, 10.5)]
    slow = [(10.0, 10.2), (10.5, 10.7), (11.0, 11.2)]  # three in 1.2 s: a hand
    assert spans({COMMAND: slow, RAISE: slow, BRAKE: []}) == []


def test_a_dip_is_one_common_drop_out() -> None:
    tracks = a_run(10, 14) | {"trolley.left.contactor": [(11, 14.005)], "trolley.left.command": [(10.9, 16)]}
    supply = [(0.0, 1.0), (13.99, 0.0), (14.5, 1.0)]
    found = ideal.spans(
        {"supply.control": supply}
        | {n: [(0.0, 0.0), *((t, v) for a, b in p for t, v in ((a, 1.0), (b, 0.0)))] for n, p in tracks.items()},
        (),
        (0.0,),
        1000.0,
    )
    assert [(s.pattern, s.motion, s.start, s.end) for s in found] == [("common_drop_out", None, 13.99, 14.5)]


def test_the_daily_test_of_the_upper_limit_is_no_stop() -> None:
    limit = {"hoist.raise.limit": [(14, 20), (44, 50)]}
    run = {COMMAND: [(9.95, 14), (39.95, 44)], RAISE: [(10, 14.01), (40, 44.01)], BRAKE: [(10.2, 14.1), (40.2, 44.1)]}
    assert spans(run | limit) == [("limit_as_stop", "hoist", 44, 50)]
    assert len(spans(run | limit, shifts=(-4000.0,))) == 2  # the shift is older than half an hour


def test_lost_functions_are_rows_of_tries_in_vain() -> None:
    pressed = [(10.0, 12.0), (20.0, 22.0), (30.0, 32.0)]
    noted = tuple(Span("no_start", "hoist", a, b) for a, b in pressed)
    found = spans({COMMAND: pressed, RAISE: []}, noted=noted)
    assert found == [("lost_function", "hoist", a, b) for a, b in pressed]
    assert spans({COMMAND: pressed[:2], RAISE: []}, noted=noted[:2]) == []
