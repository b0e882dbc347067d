"""Guards the faults of contactors: each shows in the exact tracks, and only where it is asked for."""

from __future__ import annotations

import math
from bisect import bisect_right
from functools import cache
from typing import Any

from eventlens.signals import MOTIONS
from eventlens.simulation import Faults, Scenario, Simulated, simulate
from eventlens.simulation.contactor_faults import ContactorDice

CONTROL = {"supervised_share": 0.0}
WAYS = [f"{motion}.{way}" for motion, ways in MOTIONS.items() for way in ways]


@cache
def _day(faults: tuple[tuple[str, float], ...]) -> Simulated:
    return simulate(Scenario(faults=Faults(**dict(faults)), control=CONTROL), seed=3)  # type: ignore[arg-type]


def day(**faults: float) -> Simulated:
    return _day(tuple(faults.items()))


def spells(simulated: Simulated, signal: str) -> list[tuple[float, float]]:
    track = simulated.tracks[signal]
    ends = [at for at, _ in track[1:]] + [simulated.length_s]
    return [(at, end) for (at, value), end in zip(track, ends, strict=True) if value > 0.5]


def overhang(simulated: Simulated, way: str) -> list[float]:
    """For each stretch of a contactor: how long it outlasts the last command that fell while it was on [s]."""
    falls = [end for _, end in spells(simulated, f"{way}.command")]
    found = []
    for start, end in spells(simulated, f"{way}.contactor"):
        number = bisect_right(falls, end) - 1
        if number >= 0 and falls[number] >= start:
            found.append(end - falls[number])
    return found


def uncommanded(simulated: Simulated) -> list[tuple[str, float, float]]:
    """Stretches of a contactor in which its command was never on, nor in the half second before."""
    found = []
    for way in WAYS:
        pressed = spells(simulated, f"{way}.command")
        for start, end in spells(simulated, f"{way}.contactor"):
            if not any(a < end and b > start - 0.5 for a, b in pressed):
                found.append((way, start, end))
    return found


def test_without_these_faults_no_dice_are_thrown() -> None:
    class Never:
        def __getattr__(self, name: str) -> object:
            raise AssertionError(name)

    never: Any = Never()
    dice = ContactorDice(Faults(), never)
    assert dice.extra_close("raise") == 0.0
    assert dice.welded("hoist", "raise") is None
    assert not dice.lost("hoist.raise", 1e5)
    assert dice.strays(0.0, 1e6, ["hoist"]) == []


def test_slow_contactor() -> None:
    def answers(simulated: Simulated) -> list[float]:
        pressed = [a for a, _ in spells(simulated, "hoist.raise.command")]
        return [a - pressed[bisect_right(pressed, a) - 1] for a, _ in spells(simulated, "hoist.raise.contactor")]

    slow = [s for s in answers(day(contactor_slow=0.1)) if 0.4 < s < 2.0]
    assert len(slow) > 3
    assert len(slow) > len([s for s in answers(day()) if 0.4 < s < 2.0])  # these wait for the reversing dwell


def test_welded_contactor_opens_in_the_end() -> None:
    assert max(s for way in WAYS for s in overhang(day(), way)) < 0.2
    stuck = [s for way in WAYS for s in overhang(day(welded=0.05), way) if s > 1.0]
    assert len(stuck) > 3
    assert max(stuck) < 20.1


def test_welded_fast_contactor() -> None:
    def overrun(simulated: Simulated) -> float:
        falls = [end for _, end in spells(simulated, "hoist.fast.command")]
        return max(
            (end - falls[bisect_right(falls, end) - 1] for _, end in spells(simulated, "hoist.fast.contactor")),
            default=0.0,
        )

    assert overrun(day(fast_welded=0.1)) > 1.4


def test_stray_contactor() -> None:
    assert uncommanded(day()) == []
    found = uncommanded(day(stray=10.0))
    assert len(found) >= 3
    assert all(0.15 < end - start < 3.1 for _, start, end in found)
    strays = [run for runs in day(stray=10.0).runs.values() for run in runs if run[3] == "stray"]
    assert len(strays) >= len(found)


def test_lost_direction_until_its_end() -> None:
    lost = Faults(lost={"hoist.lower": (7.0, 8.0), "hoist.fast": (9.0, math.inf)})
    simulated = simulate(Scenario(faults=lost, control=CONTROL), seed=3)
    lower = [start / 3600.0 for start, _ in spells(simulated, "hoist.lower.contactor")]
    assert [hour for hour in lower if 7.0 < hour < 8.0] == []
    assert [hour for hour in lower if hour < 7.0]
    assert [hour for hour in lower if hour > 8.0]
    fast = [start / 3600.0 for start, _ in spells(simulated, "hoist.fast.contactor")]
    assert max(fast) < 9.01
    assert [s for s in simulated.spans if s.pattern == "lost_function"]
