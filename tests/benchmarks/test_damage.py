"""Guards the damages that set the clock, and what the truth becomes by it. Counted by hand."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from functools import cache

import polars as pl
import pytest

from eventlens.simulation import Faults, Scenario, Simulated, simulate
from eventlens.wiring import review_log
from tests.benchmarks.accuracy import Plan
from tests.benchmarks.damage import DAMAGES, damaged, middle

FROZEN = Faults(frozen={"hoist.lower.command": 6.2})


@cache
def morning() -> Simulated:
    return simulate(Scenario(shifts=((6.0, 9.0),), habits={"jog": 1.0}), seed=3, step_s=0.01)


@pytest.mark.parametrize(("kind", "hours"), [("set back", -1), ("set forward", 1)])
def test_a_clock_that_is_set_moves_what_comes_later_and_is_found(kind: str, hours: int) -> None:
    simulated, at = morning(), middle(morning())
    log, truth = damaged(simulated, kind, random.Random(1))
    before, after = (simulated.truth.filter(part) for part in (pl.col("end") <= at, pl.col("start") > at))
    others = truth.filter(pl.col("pattern") != "clock_step")
    assert after.height > 0
    expected = [*before["start"], *(t + timedelta(hours=hours) for t in after["start"])]
    assert sorted(others["start"]) == sorted(expected)
    step = truth.filter(pl.col("pattern") == "clock_step").select("start", "end").row(0)
    found = review_log(log, simulated.machine).occurrences.filter(pl.col("pattern") == "clock_step")
    assert found.select("start", "end").rows() == [step]
    assert step[0] <= at
    assert (step[1] - step[0] > timedelta(hours=1)) is (hours > 0)


class First(random.Random):
    """Chooses a wanted one."""

    def __init__(self, wanted: str) -> None:
        super().__init__(0)
        self.wanted = wanted

    def choice(self, seq: object) -> str:  # type: ignore[override]
        return self.wanted


@pytest.mark.parametrize(("dropped", "seen"), [("hoist.lower.command", False), ("supply.control", True)])
def test_a_signal_that_is_not_logged_cannot_be_seen_to_freeze(dropped: str, seen: bool) -> None:
    simulated = simulate(replace(morning().scenario, faults=FROZEN), seed=3, step_s=0.01)
    log, truth = damaged(simulated, "missing", First(dropped))
    assert set(simulated.scenario.signals) - set(log.names["name"]) == {dropped}
    assert ("frozen_signal" in truth["pattern"].to_list()) is seen


def test_jitter_is_looked_at_at_every_step_and_the_others_at_two() -> None:
    cells = Plan().cells
    assert {step for step, damage in cells if damage == "jitter"} == set(Plan().steps)
    assert {step for step, damage in cells if damage == "set forward"} == {0.01, 0.05}
    assert {damage for _, damage in cells} >= set(DAMAGES)
