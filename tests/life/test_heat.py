"""Guards the heat model: rated duty settles at 1, a slow step-by-step oracle, cooling, and independence of cutting."""

from __future__ import annotations

import math
from dataclasses import replace

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens import schema
from eventlens.duty.groups import HOIST_MOTORS
from eventlens.life.heat import HeatModel, HeatParameters, at, heat, hottest
from tests.logs import at as instant

MODEL = HeatModel.of(HOIST_MOTORS["M5"], HeatParameters())


def runs(*spans: tuple[float, float]) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "start": [instant(a) for a, _ in spans],
            "end": [instant(b) for _, b in spans],
            "start_seen": [True] * len(spans),
        },
        schema={"start": schema.TIME, "end": schema.TIME, "start_seen": pl.Boolean},
    )


@pytest.mark.parametrize("group", HOIST_MOTORS)
def test_rated_duty_settles_at_one(group: str) -> None:
    rated = HOIST_MOTORS[group]
    model = HeatModel.of(rated, HeatParameters())
    cycle = 3600 / rated.starts_per_hour
    length = cycle * rated.cyclic_duration
    work = runs(*((n * cycle, n * cycle + length) for n in range(rated.starts_per_hour * 8)))
    last = heat(work, model).tail(1)
    # the level swings about its mean within a cycle by about the start's kick
    assert (last["at_start"][0] + last["at_end"][0]) / 2 == pytest.approx(1.0, abs=0.02)


def test_half_of_the_work_gives_about_half_of_the_heat() -> None:
    rated = HOIST_MOTORS["M5"]
    cycle = 2 * 3600 / rated.starts_per_hour
    work = runs(*((n * cycle, n * cycle + 6.0) for n in range(960)))
    assert 0.35 < heat(work, MODEL)["at_end"][-1] < 0.6


def test_it_cools_by_a_third_in_a_rest_time_constant() -> None:
    work = heat(runs((0, 600)), MODEL)
    end = work["at_end"][0]
    later = at(pl.Series([instant(600 + MODEL.tau_rest_s)], dtype=schema.TIME), work, MODEL)
    assert later["heat"][0] == pytest.approx(end / math.e)
    assert at(pl.Series([instant(-5)], dtype=schema.TIME), work, MODEL)["heat"][0] == 0.0


def test_within_a_run_it_is_on_its_way() -> None:
    work = heat(runs((0, 600), (700, 1000)), MODEL)
    borders = pl.Series([instant(700), instant(850), instant(999.999999)], dtype=schema.TIME)
    begun, between, done = at(borders, work, MODEL)["heat"]
    assert begun == pytest.approx(work["at_start"][1] + MODEL.start)  # the start itself is over at once
    assert begun < between < done
    assert done == pytest.approx(work["at_end"][1], abs=1e-6)


def test_what_comes_from_starts_and_what_from_running() -> None:
    spans = ((0, 30), (60, 61), (62, 63), (200, 500))
    only_starts = replace(MODEL, running=0.0)
    only_running = replace(MODEL, start=0.0)
    both = heat(runs(*spans), MODEL)
    assert both["starts_at_end"].to_list() == pytest.approx(heat(runs(*spans), only_starts)["at_end"].to_list())
    rest = both["at_end"] - both["starts_at_end"]
    assert rest.to_list() == pytest.approx(heat(runs(*spans), only_running)["at_end"].to_list())


def test_the_hottest_moment_and_the_reserve() -> None:
    found = hottest(runs((0, 600), (3000, 3005)), HOIST_MOTORS["M5"], {})
    assert found is not None
    assert found.at == instant(600)
    assert found.reserve == pytest.approx(1 - found.peak)
    assert found.confidence == "from memory"
    assert hottest(runs(), HOIST_MOTORS["M5"], {}) is None
    own = {"motor_time_constant_s": 2400.0, "motor_rest_factor": 1.0, "motor_start_heat_share": 0.4}
    stated = hottest(runs((0, 600)), HOIST_MOTORS["M5"], own)
    assert stated is not None
    assert stated.confidence == "machine file"
    slower = hottest(runs((0, 600)), HOIST_MOTORS["M5"], {"motor_time_constant_s": 2400.0})
    assert slower is not None
    assert slower.confidence == "from memory"  # one of three
    assert slower.peak < found.peak


def test_nothing_ran() -> None:
    assert heat(runs(), MODEL).is_empty()


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, 40000.0), st.floats(0.1, 3000.0)), min_size=1, max_size=30))
def test_against_a_walk_through_the_runs(gaps: list[tuple[float, float]]) -> None:
    spans, clock = [], 0.0
    for gap, length in gaps:
        spans.append((clock + gap, clock + gap + length))
        clock += gap + length
    level, end, expected = 0.0, spans[0][0], []
    for a, b in spans:  # oracle: one run after the other
        level *= math.exp(-(a - end) / MODEL.tau_rest_s)
        kept = math.exp(-(b - a) / MODEL.tau_run_s)
        level = (level + MODEL.start) * kept + MODEL.running * (1 - kept)
        expected.append(level)
        end = b
    assert heat(runs(*spans), MODEL)["at_end"].to_list() == pytest.approx(expected, abs=1e-6)


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.floats(1.0, 500.0), st.floats(0.1, 60.0)), min_size=2, max_size=20), st.floats(1.0, 3000.0)
)
def test_more_rest_never_makes_it_hotter(gaps: list[tuple[float, float]], more: float) -> None:
    def spans(extra: float) -> list[tuple[float, float]]:
        found, clock = [], 0.0
        for n, (gap, length) in enumerate(gaps):
            clock += gap + (extra if n == len(gaps) - 1 else 0.0)
            found.append((clock, clock + length))
            clock += length
        return found

    lazy, busy = (heat(runs(*spans(extra)), MODEL)["at_end"][-1] for extra in (more, 0.0))
    assert lazy <= busy + 1e-9
