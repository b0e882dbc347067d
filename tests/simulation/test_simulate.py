"""Guards whole simulated days: the same seed gives the same day, physics holds, and the truth is what a plain
recount of the exact tracks finds."""

from __future__ import annotations

import random
import statistics
from bisect import bisect_right
from dataclasses import replace
from functools import cache
from itertools import pairwise

import polars as pl
import pytest

from eventlens import schema
from eventlens.signals import MOTIONS
from eventlens.simulation import HELD_OUT, Faults, Scenario, Simulated, as_log, simulate, to_events
from eventlens.simulation.engine import Engine
from eventlens.simulation.traits import ORDINARY, HoistTraits, draw
from eventlens.simulation.truth import PATTERNS
from tests.benchmarks.stories import STORIES


@cache
def day(story: str, seed: int = 3) -> Simulated:
    return simulate(STORIES[story], seed=seed, step_s=0.001)


class Track:
    """The state of a signal at any instant, from its changes."""

    def __init__(self, simulated: Simulated, signal: str) -> None:
        self.times = [at for at, _ in simulated.tracks[signal]]
        self.values = [value > 0.5 for _, value in simulated.tracks[signal]]

    def at(self, instant: float) -> bool:
        return self.values[bisect_right(self.times, instant) - 1]

    def spells(self) -> list[tuple[float, float]]:
        ends = [*self.times[1:], float("inf")]
        return [(a, b) for a, b, on in zip(self.times, ends, self.values, strict=True) if on]

    def on_within(self, start: float, end: float) -> bool:
        return any(a < end and b > start for a, b in self.spells())


def spans(simulated: Simulated, pattern: str) -> list[tuple[str | None, float, float]]:
    return sorted((s.motion, s.start, s.end) for s in simulated.spans if s.pattern == pattern)


# Seeds


def test_the_same_seed_gives_the_same_day_and_another_seed_another() -> None:
    first, again = (simulate(STORIES["electrics"], seed=5, step_s=0.01) for _ in range(2))
    other = simulate(STORIES["electrics"], seed=6, step_s=0.01)
    assert first.events.equals(again.events)
    assert first.truth.equals(again.truth)
    assert not first.events.equals(other.events)
    assert first.build != other.build


def test_identity_keeps_the_machine_while_the_seed_changes_the_day() -> None:
    scenario = replace(STORIES["ordinary"], identity=7)
    first, other = (simulate(scenario, seed=seed) for seed in (1, 2))
    assert first.build == other.build
    assert not first.events.equals(other.events)


def test_a_fault_does_not_change_what_the_machine_is() -> None:
    assert day("electrics").build == day("ordinary").build


def test_held_out_ranges_are_wider_and_of_the_same_traits() -> None:
    for group, ranges in ORDINARY.items():
        assert HELD_OUT[group].keys() == ranges.keys()
    assert HELD_OUT["hoist"] != ORDINARY["hoist"]


def test_a_trait_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="lift_mm"):
        simulate(Scenario(hoist={"lift_mm": 4000.0}), seed=1)


# Tables


@pytest.mark.parametrize("story", STORIES)
def test_events_and_log_are_as_written_in_the_schema(story: str) -> None:
    simulated = day(story)
    schema.EVENTS.check(simulated.events)
    log = as_log(simulated.at_step(0.02))
    assert log.step_s == 0.02
    assert log.signals() == set(simulated.scenario.signals)
    assert log.events["time"].is_sorted()


def test_events_of_another_step_lie_on_its_grid() -> None:
    events = to_events(day("ordinary"), 0.2)
    assert (events["time"].dt.epoch("us") % 200_000 == 0).all()


# Physics


@pytest.mark.parametrize("story", ["ordinary", "electrics", "crew", "timer"])
def test_contactor_times_lie_in_the_published_range(story: str) -> None:
    # AC-coil contactors close in 8 to 35 ms and open in 4 to 20 ms (rule of thumb), plus one scan to read the button
    simulated, scan = day(story), day(story).build.control.scan_s
    delays, opens = [], []
    for direction in MOTIONS["hoist"]:
        command, contactor = (Track(simulated, f"hoist.{direction}.{kind}") for kind in ("command", "contactor"))
        for on, off in command.spells():
            first = next((at for at, _ in contactor.spells() if at >= on), float("inf"))
            if first - on < 0.08:
                delays.append(first - on)
            last = next((end for at, end in contactor.spells() if at <= off <= end), None)
            if last is not None:
                opens.append(last - off)
    assert len(delays) > 100
    assert min(delays) >= 0.008 * 0.5
    assert statistics.median(delays) <= 0.035 + scan
    assert min(opens) >= 0.004 * 0.5
    assert max(opens) <= 2 * 0.020 + scan


@pytest.mark.parametrize("story", STORIES)
def test_nobody_presses_a_button_again_faster_than_a_hand_can(story: str) -> None:
    # a hand rarely presses again in under 0.15 to 0.2 s (judgement)
    simulated = day(story)
    for motion, directions in MOTIONS.items():
        pressed = sorted(
            spell for direction in directions for spell in Track(simulated, f"{motion}.{direction}.command").spells()
        )
        pauses = [on - off for (_, off), (on, _) in pairwise(pressed)]
        assert min(pauses, default=1.0) > 0.03  # from one button to the other the thumb may roll
        assert sum(pause < 0.15 for pause in pauses) <= 0.05 * len(pauses)


@pytest.mark.parametrize("story", ["ordinary", "electrics", "crew"])
def test_brake_releases_after_the_contactor_and_applies_after_it_opens(story: str) -> None:
    # published tables: release 45 to 390 ms, apply 28 to 230 ms
    simulated = day(story)
    brake = Track(simulated, "hoist.brake.released")
    closed = sorted(
        spell for direction in MOTIONS["hoist"] for spell in Track(simulated, f"hoist.{direction}.contactor").spells()
    )
    starts = [start for start, _ in closed]
    releases, applies = [], []
    for on, off in brake.spells():
        run = bisect_right(starts, on) - 1
        assert run >= 0
        if closed[run][0] < on <= closed[run][1] and (run == 0 or closed[run - 1][1] < closed[run][0] - 1.0):
            releases.append(on - closed[run][0])
        before = [end for _, end in closed if end <= off]
        if before and off - before[-1] < 0.5:
            applies.append(off - before[-1])
    assert len(releases) > 100
    assert min(releases) > 0.03
    assert 0.045 <= statistics.median(releases) <= 0.390
    assert 0.028 <= statistics.median(applies) <= 0.230


@pytest.mark.parametrize("story", ["ordinary", "low trip", "busy"])
def test_the_hook_stays_between_its_limits_and_moves_no_faster_than_it_can(story: str) -> None:
    # replayed from the tracks: contactors and brake give a bound of the way, the limits stop it
    simulated = day(story)
    for direction in MOTIONS["hoist"]:
        contactor, limit = (Track(simulated, f"hoist.{direction}.{kind}") for kind in ("contactor", "limit"))
        for on, off in contactor.spells():
            assert not limit.at(on)
            reached = [at for at, _ in limit.spells() if on < at < off]
            assert not reached or off - reached[0] < 0.1  # the controller opens the contactor at once


def test_run_times_follow_from_way_and_speed() -> None:
    # a hoist that needs 100 s from limit to limit in slow: the test of the upper limit from 0.5 m below, at 0.05 m/s,
    # takes 0.5 m / 0.05 m/s = 10 s and a little for brake and acceleration
    scenario = Scenario(
        hoist={"lift_m": 5.0, "slow_mps": 0.05, "release_s": 0.2, "cold_s": 0.0}, habits={"daily_test": 1.0}
    )
    simulated = simulate(scenario, seed=2)
    first = next(run for run in simulated.runs["hoist"] if run[3] == "limit")
    assert 9.0 <= first[2] - first[1] <= 12.0


def test_traits_drawn_lie_in_their_ranges() -> None:
    for seed in range(50):
        traits = draw(HoistTraits, HELD_OUT["hoist"], {}, random.Random(seed))
        for name, (low, high) in HELD_OUT["hoist"].items():
            assert low <= getattr(traits, name) <= high


def test_idle_days_cost_no_events() -> None:
    simulated = simulate(replace(STORIES["ordinary"], workdays=()), seed=1, days=7)
    assert simulated.events.height == len(simulated.scenario.signals)
    assert Engine().advance(1e9) is False


# Truth against a plain recount


def recount_speed_changes(simulated: Simulated, low: float, high: float) -> list[tuple[str | None, float, float]]:
    found: list[tuple[str | None, float, float]] = []
    for motion, directions in MOTIONS.items():
        fast = Track(simulated, f"{motion}.fast.contactor").spells()
        for direction in directions:
            for start, end in Track(simulated, f"{motion}.{direction}.contactor").spells():
                first = next((at for at, gone in fast if gone > start), None)
                if first is not None and first < end and low < first - start <= high:
                    found.append((motion, min(start, first), max(start, first)))
    return sorted(found, key=lambda span: (span[0] or "", *span[1:]))


def test_speed_changes_recounted_from_the_contactors() -> None:
    simulated = day("timer")
    assert spans(simulated, "speed_change_missing") == recount_speed_changes(simulated, -1.0, 0.10)
    short = [s for s in recount_speed_changes(simulated, 0.10, 0.30) if s[2] - s[1] < 0.30]
    assert spans(simulated, "speed_change_short") == short
    assert len(short) > 3


@pytest.mark.parametrize("story", ["busy", "crew", "electrics", "ordinary"])
def test_jogging_recounted_from_the_runs(story: str) -> None:
    simulated = day(story)
    found: list[tuple[str | None, float, float]] = []
    for motion, runs in simulated.runs.items():
        burst: list[tuple[float, float]] = []
        for _, start, end, reason in [*runs, ("", 1e9, 2e9, "")]:
            jog = reason == "let_go" and end - start < 1.0
            if not jog or (burst and start - burst[-1][1] >= 2.0):
                if len(burst) >= 3:
                    found.append((motion, burst[0][0], burst[-1][1]))
                burst = []
            if jog:
                burst.append((start, end))
    assert spans(simulated, "jogging") == sorted(found, key=lambda span: (span[0] or "", *span[1:]))


@pytest.mark.parametrize("story", ["electrics", "holes", "crew", "low trip"])
def test_drop_outs_recounted_from_button_and_devices(story: str) -> None:
    # the contactor opens while its button is held and stays held, and no device has acted in the 50 ms before
    simulated = day(story)
    found: list[tuple[str | None, float, float]] = []
    devices = [Track(simulated, name) for name in ("overload.trip", "stop.emergency", "hoist.motor.hot")]
    supply = Track(simulated, "supply.control")
    brake = Track(simulated, "hoist.brake.released")
    for motion, directions in MOTIONS.items():
        for direction in directions:
            command, contactor, limit = (
                Track(simulated, f"{motion}.{direction}.{kind}") for kind in ("command", "contactor", "limit")
            )
            other = Track(simulated, f"{motion}.{next(d for d in directions if d != direction)}.command")
            for start, end in contactor.spells():
                held = command.at(end) and command.at(end - 0.05)
                explained = limit.at(end) or other.at(end) or not supply.at(end) or any(d.at(end) for d in devices)
                if held and not explained:
                    given_up = motion == "hoist" and not brake.on_within(start, end)
                    if not given_up or end - start < 0.8:
                        found.append((motion, start, end))
    known = spans(simulated, "drop_out")
    assert [s for s in known if s not in found] == []
    assert [s for s in found if s not in known] == []
    assert len(known) > 5 or story != "electrics"


def test_runs_without_confirmation_were_given_up_after_the_time_out() -> None:
    simulated = day("electrics")
    brake, timeout = Track(simulated, "hoist.brake.released"), simulated.build.control.brake_timeout_s
    known = spans(simulated, "brake_not_confirmed")
    assert known
    for _, start, end in known:
        assert timeout <= end - start <= timeout + 0.1
        assert not brake.on_within(start, end)


def test_no_starts_recounted_from_button_and_contactor() -> None:
    simulated = simulate(
        replace(STORIES["electrics"], faults=Faults(dead_relay={"hoist.raise": 0.05, "bridge.reverse": 0.1})),
        seed=4,
        step_s=0.001,
    )
    found: list[tuple[str | None, float, float]] = []
    devices = [Track(simulated, name) for name in ("overload.trip", "stop.emergency", "hoist.motor.hot")]
    for motion, directions in MOTIONS.items():
        for direction in directions:
            command, contactor, limit = (
                Track(simulated, f"{motion}.{direction}.{kind}") for kind in ("command", "contactor", "limit")
            )
            for on, off in command.spells():
                explained = any(t.on_within(on, off) for t in (*devices, limit))
                if off - on >= 0.7 and not contactor.on_within(on, off) and not explained:
                    found.append((motion, on, off))
    assert spans(simulated, "no_start") == sorted(found, key=lambda span: (span[0] or "", *span[1:]))
    assert len(found) > 5


def test_trips_and_repeats_recounted_from_the_device() -> None:
    for seed in (1, 2, 3):
        simulated = day("crew", seed)
        events: list[list[float]] = []
        for on, off in Track(simulated, "overload.trip").spells():
            if events and on - events[-1][1] < 2.0:
                events[-1][1] = off
            else:
                events.append([on, off])
        raises = Track(simulated, "hoist.raise.contactor").spells()
        early = [any(start <= on <= min(end, start + 1.0) for start, end in raises) for on, _ in events]
        for pattern, wanted in (("overload_snatch", True), ("overload_trip", False)):
            expected = [("hoist", on, off) for (on, off), snatch in zip(events, early, strict=True) if snatch is wanted]
            assert spans(simulated, pattern) == expected
        lowers = Track(simulated, "hoist.lower.contactor")
        repeats = []
        for on, off in Track(simulated, "hoist.raise.command").spells():
            last = max((start for start, _ in events if start < on), default=-1e9)
            if on - last <= 30.0 and not lowers.on_within(last, on):
                repeats.append(("hoist", on, off))
        assert spans(simulated, "overload_repeat") == repeats
        assert len(events) > 3


def test_duty_windows_hold_more_starts_than_the_group_allows_at_their_end() -> None:
    simulated = day("busy")
    starts = [run[1] for run in simulated.runs["hoist"]]
    truth = simulated.truth.filter(pl.col("pattern") == "starts_per_hour_high")
    assert truth.height > 0
    for end in truth["end"]:
        t = (end - simulated.start).total_seconds()
        assert sum(t - 3600.0 < start <= t + 1e-5 for start in starts) > 150  # FEM 9.683: M3 allows 150


def test_only_what_the_logger_saw_is_true_of_its_log() -> None:
    simulated = day("holes")
    holes = simulated.truth.filter(pl.col("pattern") == "log_hole")
    assert holes.height == len(simulated.off) > 0
    others = simulated.truth.filter(
        ~pl.col("pattern").is_in(["log_hole", "starts_per_hour_high", "cyclic_duration_high"])
    )
    for start, end in holes.select("start", "end").iter_rows():
        assert others.filter((pl.col("start") < end) & (pl.col("end") > start)).height == 0


def test_the_held_out_machines_make_every_pattern_too() -> None:
    missing = set(PATTERNS[:14]) - {"clock_step"}  # all that these stories are about
    for seed in (50, 51, 52):
        for scenario in STORIES.values():
            if missing:
                missing -= set(simulate(replace(scenario, ranges=HELD_OUT), seed=seed).truth["pattern"])
    assert missing == set()
