"""Guards the faults of brake and confirmation: each shows in the exact tracks, and only where it is asked for."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from functools import cache
from itertools import pairwise

import pytest

from eventlens.simulation import Faults, Scenario, Simulated, simulate
from eventlens.simulation.brake_faults import BrakeDice

STEADY = {"brake_timeout_s": 1.6, "brake_loss_s": 1.0}
"""A controller that waits long for the brake, so that the fault does not end the run."""
SWITCH = "hoist.brake.released"


@cache
def day(**faults: float) -> Simulated:
    return simulate(Scenario(faults=Faults(**faults), control=STEADY), seed=3)  # type: ignore[arg-type]


def spells(simulated: Simulated, signal: str = SWITCH) -> list[tuple[float, float]]:
    track = [(at, value) for at, value in simulated.tracks[signal]]
    ends = [at for at, _ in track[1:]] + [simulated.length_s]
    return [(at, end) for (at, value), end in zip(track, ends, strict=True) if value > 0.5]


def releases(simulated: Simulated) -> list[float]:
    """From each start to the next confirmation within the run [s]."""
    ons = [on for on, _ in spells(simulated)]
    found = []
    for _, start, end, _ in simulated.runs["hoist"]:
        number = bisect_left(ons, start)
        if number < len(ons) and ons[number] < end:
            found.append(ons[number] - start)
    return found


def settings(simulated: Simulated) -> list[float]:
    """From each end of a run to the fall of the confirmation that was on then [s]."""
    on, found = spells(simulated), []
    for _, _, end, _ in simulated.runs["hoist"]:
        number = bisect_right([a for a, _ in on], end) - 1
        if number >= 0 and on[number][1] > end:
            found.append(on[number][1] - end)
    return found


def test_without_these_faults_no_dice_are_thrown() -> None:
    class Never:
        def __getattr__(self, name: str) -> object:
            raise AssertionError(name)

    dice = BrakeDice(Faults(), Never())  # type: ignore[arg-type]
    control = day().build.control
    assert (dice.release_late(), dice.apply_late(), dice.flicker(control)) == (None, None, None)
    assert not dice.bounces()
    assert dice.stuck(0.0, 1e6) == []


def test_late_release() -> None:
    assert max(releases(day())) < 0.5  # the range of healthy releases ends at 0.30 s, plus cold and scatter
    late = [s for s in releases(day(brake_late=0.1)) if s > 0.5]
    assert late
    assert all(0.55 <= s <= 1.2 for s in late)


def test_late_setting() -> None:
    assert max(settings(day())) < 0.5
    late = [s for s in settings(day(apply_late=0.1)) if s > 0.5]
    assert late
    assert max(late) <= 1.5


def test_stuck_switch_holds_through_rest() -> None:
    rest = longest_rest(day(switch_stuck=6.0))
    assert rest > 2.0
    assert longest_rest(day()) < 0.5


def longest_rest(simulated: Simulated) -> float:
    """Longest time that the confirmation is on between two runs [s]."""
    runs = [(0.0, 0.0), *((a, b) for _, a, b, _ in simulated.runs["hoist"]), (simulated.length_s,) * 2]
    on, longest = spells(simulated), 0.0
    for (_, end), (start, _) in pairwise(runs):
        for a, b in on:
            longest = max(longest, min(b, start) - max(a, end))
    return longest


def test_flicker_does_not_end_the_run() -> None:
    healthy, shaken = day(), day(confirm_flicker=0.2)
    gaps = [b - a for (_, a), (b, _) in zip(spells(shaken), spells(shaken)[1:], strict=False)]
    inside = [g for g in gaps if 0.1 <= g <= 0.6]
    assert len(inside) > 10
    assert [run[3] for run in shaken.runs["hoist"]] == [run[3] for run in healthy.runs["hoist"]]


def test_flicker_is_cut_to_what_the_controller_bears() -> None:
    short = simulate(Scenario(faults=Faults(confirm_flicker=0.5), control={**STEADY, "brake_loss_s": 0.1}), seed=3)
    assert "brake_lost" not in {run[3] for run in short.runs["hoist"]}


def test_bounce_is_short_and_harmless() -> None:
    healthy, bouncing = day(), day(confirm_bounce=1.0)
    assert len(spells(bouncing)) > 2 * len(spells(healthy))
    assert bouncing.runs == healthy.runs
    assert [s for s in bouncing.spans if s.pattern == "brake_confirmation_lost"] == []


@pytest.mark.parametrize("fault", ["brake_late", "apply_late", "switch_stuck", "confirm_flicker", "confirm_bounce"])
def test_the_same_seed_gives_the_same_faults(fault: str) -> None:
    scenario = Scenario(faults=Faults(**{fault: 0.5}))  # type: ignore[arg-type]
    assert simulate(scenario, seed=4).tracks == simulate(scenario, seed=4).tracks
