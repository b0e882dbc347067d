"""Guards what breaks the record or lies above a single run: frozen inputs, long rests, interlocks, loads untripped.

Each happens where it is asked for and nowhere beside it. Expected numbers are counted by hand.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise

import pytest

from eventlens.simulation import Faults, Scenario, Simulated, ideal, signals_of, simulate
from eventlens.simulation.ideal.frozen import _lowest
from eventlens.simulation.logger import record
from eventlens.simulation.truth import Recorder, Span

SHORT = Scenario(shifts=((6.0, 8.0),))
RAISE, LOWER = "hoist.raise.contactor", "hoist.lower.contactor"
Pulses = list[tuple[float, float]]


def named(simulated: Simulated, pattern: str) -> list[Span]:
    return [span for span in simulated.spans if span.pattern == pattern]


def tracks_of(signals: dict[str, Pulses]) -> dict[str, list[tuple[float, float]]]:
    return {s: [(0.0, 0.0), *((at, v) for a, b in p for at, v in ((a, 1.0), (b, 0.0)))] for s, p in signals.items()}


# An interlock that is lost


def overlap_s(simulated: Simulated) -> float:
    """How long both directions of any motion were on, from the exact tracks [s]."""
    total = 0.0
    for motion, ways in (
        ("hoist", ("raise", "lower")),
        ("trolley", ("left", "right")),
        ("bridge", ("forward", "reverse")),
    ):
        changes = sorted((at, way, on) for way in ways for at, on in simulated.tracks[f"{motion}.{way}.contactor"])
        on: set[str] = set()
        before = 0.0
        for at, way, value in changes:
            total += (at - before) * (len(on) == 2)
            on, before = (on | {way} if value else on - {way}), at
    return total


def test_both_directions_close_only_where_one_is_welded_and_the_interlock_is_lost() -> None:
    hasty = replace(SHORT, habits={"reversal": 1.0, "jog": 1.0}, control={"supervised_share": 0.0})
    welded = Faults(welded=0.3, welded_s=(0.5, 4.0))
    both = simulate(replace(hasty, faults=replace(welded, interlock_lost=True)), seed=3)
    assert overlap_s(both) > 1.0
    assert sum(s.end - s.start for s in named(both, "opposed_directions")) == pytest.approx(overlap_s(both), abs=0.2)
    for faults in (welded, Faults(interlock_lost=True)):
        neighbour = simulate(replace(hasty, faults=faults), seed=3)
        assert overlap_s(neighbour) == 0.0
        assert named(neighbour, "opposed_directions") == []


@pytest.mark.parametrize("first_opens", ["raise", "lower"])
def test_the_recorder_keeps_two_runs_at_once_apart(first_opens: str) -> None:
    recorder = Recorder()
    recorder.contactor_closed("hoist", "raise", 1.0)
    recorder.contactor_closed("hoist", "lower", 3.0)
    then = "lower" if first_opens == "raise" else "raise"
    recorder.contactor_opened("hoist", first_opens, 4.0, "let_go", held=False)
    recorder.contactor_opened("hoist", then, 7.0, "let_go", held=False)
    begun = {"raise": 1.0, "lower": 3.0}
    assert recorder.runs("hoist") == [
        (first_opens, begun[first_opens], 4.0, "let_go"),
        (then, begun[then], 7.0, "let_go"),
    ]


def test_a_run_beside_another_is_no_jog() -> None:
    recorder = Recorder()
    for start in (1.0, 2.0):
        recorder.contactor_closed("hoist", "raise", start)
        recorder.contactor_opened("hoist", "raise", start + 0.4, "let_go", held=False)
    recorder.contactor_closed("hoist", "raise", 3.0)
    recorder.contactor_closed("hoist", "lower", 3.2)
    recorder.contactor_opened("hoist", "raise", 3.4, "let_go", held=False)
    recorder.contactor_opened("hoist", "lower", 3.6, "let_go", held=False)
    recorder.finish()
    assert recorder.spans == []


# An input that freezes


def test_a_frozen_input_keeps_its_last_state_and_the_others_go_on() -> None:
    tracks = {"overload.trip": [(0.0, 0.0), (1.0, 1.0), (2.0, 0.0)], "stop.emergency": [(0.0, 0.0), (2.0, 1.0)]}
    start = datetime(2026, 3, 2, tzinfo=UTC)
    frozen = {"overload.trip": 1.5}
    log = record(tracks, list(tracks), start, 5.0, step_s=0.1, heartbeat_s=10.0, frozen=frozen).events
    assert log.select("signal", "value").rows() == [
        ("overload.trip", 0.0),
        ("stop.emergency", 0.0),
        ("overload.trip", 1.0),
        ("stop.emergency", 1.0),
    ]


def test_truth_of_a_frozen_input_is_the_work_that_should_have_moved_it() -> None:
    scenario = replace(SHORT, faults=Faults(frozen={"hoist.brake.released": 7.0}))
    simulated = simulate(scenario, seed=3)
    (span,) = simulated.truth.filter(simulated.truth["pattern"] == "frozen_signal").rows(named=True)
    runs = [run for run in simulated.runs["hoist"] if run[1] >= 7 * 3600.0]
    seconds = [(span[end] - simulated.start).total_seconds() for end in ("start", "end")]
    assert seconds == pytest.approx([runs[0][1], runs[-1][2]], abs=1e-5)
    assert span["margin_s"] is None
    whole = simulate(SHORT, seed=3)
    assert whole.tracks == simulated.tracks  # the machine knows nothing of it
    assert "frozen_signal" not in whole.truth["pattern"].to_list()


def test_an_input_that_freezes_after_the_work_is_none() -> None:
    scenario = replace(SHORT, faults=Faults(frozen={"hoist.brake.released": 12.0}))
    assert "frozen_signal" not in simulate(scenario, seed=3).truth["pattern"].to_list()


@pytest.mark.parametrize(("runs", "sure"), [(19, False), (20, True)])
def test_so_many_runs_decide_a_confirmation(runs: int, sure: bool) -> None:
    # with 40 of 40 runs confirmed before, the share is at least 0.912; twenty runs are asked for at the least
    pulses = [(10.0 * n, 10.0 * n + 5) for n in range(1, 41 + runs)]
    tracks = tracks_of({RAISE: pulses, "hoist.brake.released": [(a + 0.2, b + 0.1) for a, b in pulses]})
    (span,) = ideal.recorded(
        tracks, [RAISE, "hoist.brake.released"], [(0.0, 9e3)], {"hoist.brake.released": 406 / 3600}, {}
    )
    assert (span.start, span.end) == (410.0, 10.0 * (40 + runs) + 5)
    assert (span.margin_s is None) is sure


def test_lower_limit_of_a_share() -> None:
    # Clopper and Pearson: 40 of 40 gives 0.025 ** (1 / 40); 10 of 20 gives 0.2720 (published tables)
    assert _lowest(40, 40) == pytest.approx(0.025 ** (1 / 40), abs=1e-9)
    assert _lowest(10, 20) == pytest.approx(0.2720, abs=1e-4)


# Rests


@pytest.mark.parametrize(("limit_s", "count"), [(89.9, 3), (90.0, 2), (99.9, 2), (100.0, 0)])
def test_rests_reach_from_run_to_run_and_to_the_ends_of_the_record(limit_s: float, count: int) -> None:
    tracks = tracks_of({RAISE: [(100.0, 110.0)], "trolley.left.contactor": [(200.0, 210.0)]})
    spans = ideal.recorded(tracks, list(tracks), [(0.0, 310.0)], {}, {"idle_longest_s": limit_s})
    assert len(spans) == count


def test_a_hole_is_no_rest_and_an_unlogged_motion_gives_none_an_end() -> None:
    tracks = tracks_of({RAISE: [(100.0, 110.0)], "trolley.left.contactor": [(200.0, 210.0)]})
    spans = ideal.recorded(tracks, [RAISE], [(0.0, 150.0), (240.0, 300.0)], {}, {"idle_longest_s": 50.0})
    assert [(s.start, s.end) for s in spans] == [(0.0, 100.0), (240.0, 300.0)]
    spans = ideal.recorded(tracks, [RAISE], [(0.0, 300.0)], {}, {"idle_longest_s": 150.0})
    assert [(s.start, s.end) for s in spans] == [(110.0, 300.0)]


# Long runs


@pytest.mark.parametrize(("limits", "count"), [({}, 0), ({"run_longest_s": 60.0}, 0), ({"run_longest_s": 59.0}, 1)])
def test_a_run_is_too_long_by_the_machine_file(limits: dict[str, float], count: int) -> None:
    spans = ideal.spans(tracks_of({"bridge.forward.contactor": [(10.0, 70.0)]}), (), (0.0,), 1000.0, limits)
    assert [s.pattern for s in spans if s.pattern == "run_too_long"] == ["run_too_long"] * count


def test_the_machine_file_carries_the_limits_of_the_scenario() -> None:
    simulated = simulate(replace(SHORT, limits={"run_longest_s": 60.0}, habits={"fast_share": 0.0}), seed=3)
    assert simulated.machine.limits == {"run_longest_s": 60.0}
    longest = max(end - start for runs in simulated.runs.values() for _, start, end, _ in runs)
    assert bool(named(simulated, "run_too_long")) is (longest > 60.0) is True
    assert (
        named(
            simulate(replace(SHORT, limits={"run_longest_s": longest + 1}, habits={"fast_share": 0.0}), seed=3),
            "run_too_long",
        )
        == []
    )


# Overloads that nothing stops


@pytest.mark.parametrize(
    ("raised", "heavy", "trip", "expected"),
    [
        ((10.0, 20.0), (12.0, 40.0), (50.0, 60.0), [(12.0, 20.0)]),
        ((10.0, 13.9), (12.0, 40.0), (50.0, 60.0), []),
        ((10.0, 14.0), (12.0, 40.0), (50.0, 60.0), [(12.0, 14.0)]),
        ((10.0, 20.0), (12.0, 40.0), (12.1, 60.0), []),
        ((10.0, 20.0), (12.0, 40.0), (15.0, 16.0), [(12.0, 15.0), (16.0, 20.0)]),
    ],
)
def test_untripped(raised: tuple, heavy: tuple, trip: tuple, expected: list) -> None:
    tracks = tracks_of({RAISE: [raised], "load.unallowed": [heavy], "overload.trip": [trip]})
    spans = ideal.spans(tracks, (), (0.0,), 1000.0)
    assert [(s.start, s.end) for s in spans if s.pattern == "overload_no_trip"] == expected


def test_a_device_that_is_set_too_high_lets_overloads_pass() -> None:
    heavy = replace(SHORT, habits={"overloaded": 0.8}, signals=signals_of(load=True), cell_share=0.05)
    dead = simulate(replace(heavy, faults=Faults(trip_level=1.6)), seed=3)
    assert named(dead, "overload_no_trip")
    assert not named(dead, "overload_trip")
    alive = simulate(heavy, seed=3)
    assert not named(alive, "overload_no_trip")
    assert named(alive, "overload_trip")


def test_the_cell_follows_a_rope_that_goes_taut() -> None:
    fine = simulate(replace(SHORT, cell_share=0.05), seed=3).tracks["load.kg"]
    rises = [later[1] - earlier[1] for earlier, later in pairwise(fine)]
    assert max(rises) <= 0.06 * SHORT.rated_kg + 5.0  # what is below a hundredth is not told; rounded to 5 kg
    coarse = simulate(SHORT, seed=3).tracks["load.kg"]
    assert len(coarse) < len(fine)
    heaviest = [max(load for _, load in track) for track in (coarse, fine)]
    assert heaviest[0] == pytest.approx(heaviest[1], abs=0.01 * SHORT.rated_kg)


# Visits


def test_only_the_visited_shift_is_worked_by_the_other_crew() -> None:
    two = Scenario(
        shifts=((6.0, 7.0), (8.0, 9.0)),
        timezone="UTC",
        second_crew={"cycles_per_h": 60.0},
        habits={"cycles_per_h": 3.0},
    )
    early = simulate(replace(two, visits=((5.0, 7.0),)), seed=3)
    count = [sum(6 <= start / 3600 < 7.9 for _, start, _, _ in early.runs["hoist"]), 0]
    count[1] = len(early.runs["hoist"]) - count[0]
    assert count[0] > 2 * count[1]
