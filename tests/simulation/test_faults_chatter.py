"""Guards chattering contacts: bursts of three pairs within a second, no jogs or drop-outs by them."""

from __future__ import annotations

from functools import cache

import pytest

from eventlens.simulation import Faults, Scenario, Simulated, simulate

CONTROL = {"supervised_share": 0.0}


@cache
def day(signal: str | None) -> Simulated:
    chatter = {} if signal is None else {signal: 60.0}
    return simulate(Scenario(faults=Faults(chatter=chatter), control=CONTROL), seed=3)


def bursts(simulated: Simulated, signal: str) -> int:
    """Places at which a signal comes on, and goes off for the third time within one second."""
    track = simulated.tracks[signal]
    return sum(1 for (a, on), (b, off) in zip(track, track[5:], strict=False) if on > 0.5 > off and b - a <= 1.0)


@pytest.mark.parametrize(
    "signal", ["hoist.raise.contactor", "hoist.raise.command", "hoist.brake.released", "hoist.raise.limit"]
)
def test_a_loose_contact_chatters_and_makes_nothing_else(signal: str) -> None:
    assert bursts(day(None), signal) == 0
    assert bursts(day(signal), signal) > 3
    others = {s.pattern for s in day(signal).spans} - {s.pattern for s in day(None).spans}
    assert not others & {"jogging", "drop_out", "no_start", "brake_not_confirmed"}
    assert "chatter" in others


def test_buttons_are_let_go_in_the_end() -> None:
    for signal in ("hoist.raise.command", "hoist.raise.contactor"):
        assert day(signal).tracks[signal][-1][1] == 0.0
