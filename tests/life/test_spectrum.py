"""Guards the load spectrum: published examples, k and km kept apart, and measured load over running time."""

from __future__ import annotations

import math

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens import schema
from eventlens.duty.load import Load, load_of
from eventlens.errors import EventlensError
from eventlens.life.spectrum import Spectrum, assumed, of_classes, of_loads
from tests.logs import at


def test_classes_of_the_first_published_example() -> None:
    # full load 5 %, three quarters 10 %, half 20 %, a quarter 15 %, empty 50 %: km 0.119 printed, 0.11953125 exactly
    found = of_classes([(1.0, 5), (0.75, 10), (0.5, 20), (0.25, 15), (0.0, 50)])
    assert found.km == pytest.approx(0.11953125)
    assert found.k == pytest.approx(0.4926, abs=1e-4)
    assert found.loading.iso == "L1"


def test_classes_of_the_second_published_example() -> None:
    # full load 10 % of the time, 40 % of it 30 %, 20 % of it 60 %: km = 0.124
    assert of_classes([(1.0, 0.1), (0.4, 0.3), (0.2, 0.6)]).km == pytest.approx(0.124)


def test_mean_and_factor_are_never_mixed_up() -> None:
    for name, k, km in (("L1", 0.5, 0.125), ("L2", 0.63, 0.25), ("L3", 0.8, 0.5), ("L4", 1.0, 1.0)):
        spectrum = assumed(name)
        assert spectrum.km == km
        assert spectrum.k == pytest.approx(k, abs=0.007)  # 0.5 is printed for 0.512
        assert spectrum.loading.iso == name
    assert Spectrum(0.125, "measured").k == pytest.approx(0.5)


def test_dead_load_adds_to_every_load() -> None:  # FEM 9.511, full form, from memory
    bare, hooked = of_classes([(1.0, 0.5), (0.0, 0.5)]), of_classes([(1.0, 0.5), (0.0, 0.5)], dead_ratio=0.1)
    assert bare.km == pytest.approx(0.5)
    assert hooked.km == pytest.approx(0.5 * 1.1**3 + 0.5 * 0.1**3)


@pytest.mark.parametrize("shares", [[], [(1.0, 0.0)], [(-0.1, 1.0)], [(0.5, -1.0)]])
def test_classes_that_mean_nothing(shares: list[tuple[float, float]]) -> None:
    with pytest.raises(EventlensError, match="load classes"):
        of_classes(shares)


def runs(*spans: tuple[float, float], segment: int = 0) -> pl.DataFrame:
    return pl.DataFrame(
        {"start": [at(a) for a, _ in spans], "end": [at(b) for _, b in spans], "segment": [segment] * len(spans)},
        schema={"start": schema.TIME, "end": schema.TIME, "segment": pl.UInt32},
    )


def loads(*records: tuple[float, float, int]) -> Load:
    """A load in shares of 1000 kg; each stretch ends with its last record."""
    events = pl.DataFrame(
        [(at(t), "load.kg", v, n, s) for n, (t, v, s) in enumerate(records)], schema=schema.EVENTS.schema, orient="row"
    )
    segments = events.group_by("segment", maintain_order=True).agg(end=pl.col("time").max())
    load = load_of(events, segments, 1000.0)
    assert load is not None
    return load


def test_measured_load_over_running_time() -> None:
    # 10 s empty, 10 s at half the rated load, at rest in between; the load at rest does not count. Counted by hand
    measured = loads((0, 0, 0), (15, 1000, 0), (100, 500, 0), (200, 0, 0))
    found = of_loads(runs((2, 12), (110, 120)), measured)
    assert found is not None
    assert found.km == pytest.approx((10 * 0 + 10 * 0.125) / 20)
    assert found.known_h == pytest.approx(20 / 3600)
    assert found.how == "measured"


def test_load_changes_within_a_run() -> None:
    found = of_loads(runs((0, 10)), loads((0, 0, 0), (4, 1000, 0), (50, 0, 0)))
    assert found is not None
    assert found.km == pytest.approx(0.6)


def test_nothing_is_carried_over_a_hole_or_the_end() -> None:
    both = pl.concat([runs((0, 10)), runs((20, 30), segment=1)])
    found = of_loads(both, loads((0, 1000, 0), (10, 1000, 0), (20, 0, 1), (25, 0, 1)))
    assert found is not None
    assert found.known_h == pytest.approx(15 / 3600)  # 0 to 10, and 20 to 25
    assert found.km == pytest.approx(10 / 15)
    assert of_loads(runs((100, 110)), loads((0, 1000, 0), (10, 500, 0))) is None
    assert of_loads(runs(), loads((0, 1000, 0), (10, 500, 0))) is None


def test_a_scale_that_drifts_below_zero_weighs_nothing() -> None:
    found = of_loads(runs((0, 10)), loads((0, -50, 0), (10, 0, 0)))
    assert found is not None
    assert found.km == 0.0


spans = st.lists(st.tuples(st.integers(0, 50), st.integers(1, 20)), min_size=1, max_size=6)


@given(spans, st.lists(st.tuples(st.integers(1, 30), st.integers(0, 1200)), min_size=2, max_size=10))
def test_against_a_walk_through_every_second(gaps: list[tuple[int, int]], steps: list[tuple[int, int]]) -> None:
    running, clock = [], 0
    for gap, length in gaps:
        running.append((clock + gap, clock + gap + length))
        clock += gap + length
    times, weights, begin = [], [], 0
    for length, weight in steps:
        times.append(begin)
        weights.append(weight)
        begin += length
    # oracle: second by second
    known, heavy = 0, 0.0
    for second in range(times[-1]):
        if any(a <= second < b for a, b in running):
            known += 1
            weight = weights[max(n for n, t in enumerate(times) if t <= second)]
            heavy += (weight / 1000) ** 3
    found = of_loads(runs(*running), loads(*((t, w, 0) for t, w in zip(times, weights, strict=True))))
    if known == 0:
        assert found is None
    else:
        assert found is not None
        assert found.km == pytest.approx(heavy / known, abs=1e-9)
        assert math.isclose(found.known_h or 0, known / 3600)


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0.01, 1)), min_size=1, max_size=6), st.floats(0, 0.5))
def test_more_load_never_gives_a_smaller_factor(shares: list[tuple[float, float]], more: float) -> None:
    heavier = [(ratio + more, share) for ratio, share in shares]
    assert of_classes(heavier).km >= of_classes(shares).km - 1e-12
