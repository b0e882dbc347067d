"""Guards the safe working period: the published examples of FEM 9.755 to their tolerance, factors, splitting."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens.errors import EventlensError
from eventlens.life.period import FACTORS, full_load_h, recording_factor, safe_period
from eventlens.life.spectrum import Spectrum, assumed, of_classes


def test_first_published_example() -> None:
    # 10 cycles/h, 2 m up and 2 m down, 8 h a day, 250 days, 4 m/min, group 1Am; counter read: 334 h; km printed 0.119
    running = 10 * 4 * 8 * 250 / (60 * 4)
    assert running == pytest.approx(333.333, abs=0.001)
    spectrum = Spectrum(0.119, "classes")
    counted = safe_period("1Am", 334, spectrum, recording="counter_spectrum_estimated")
    assert counted is not None
    assert counted.used_h == pytest.approx(43.72, abs=0.005)
    assert counted.remaining_h == pytest.approx(756.28, abs=0.005)
    estimated = safe_period("1Am", running, spectrum, recording="documented_production")
    assert estimated is not None
    assert estimated.used_h == pytest.approx(47.6, abs=0.005)
    assert estimated.remaining_h == pytest.approx(752.4, abs=0.005)
    exact = of_classes([(1.0, 5), (0.75, 10), (0.5, 20), (0.25, 15), (0.0, 50)])
    assert full_load_h(334, exact.km, 1.1) == pytest.approx(43.72, abs=0.5)


def test_second_published_example() -> None:
    # 1440 h, km 0.124, factor 1.2: 214.272 h; before that 215.468 and 210.26; group 2m: 60 % left of 1600 h
    found = safe_period(
        "2m", 1440, Spectrum(0.124, "classes"), recording="documented_production", used_before_h=215.468 + 210.26
    )
    assert found is not None
    assert found.in_log_h == pytest.approx(214.272)
    assert found.used_h == pytest.approx(640.000)
    assert 1 - found.share == pytest.approx(0.60)


def test_third_published_example() -> None:  # 240 h in two years, km 0.25, factor 1.2: 72 h of 800
    found = safe_period("1Am", 240, assumed("L2"), recording="undocumented_production")
    assert found is not None
    assert (found.used_h, found.remaining_h) == pytest.approx((72, 728))


def test_sets_of_factors_differ_and_are_named() -> None:
    assert recording_factor("undocumented_production", "FEM 9.755")[0] == 1.2
    assert recording_factor("undocumented_production", "ISO 12482")[0] == 1.3
    found = safe_period("M5", 10, assumed("L1"), recording="unknown", factor_set="ISO 12482")
    assert found is not None
    assert found.factor == 1.5
    assert "ISO 12482" in found.source
    assert found.confidence == "from one place"
    with pytest.raises(EventlensError, match="ISO 12482"):
        recording_factor("unknown", "FEM 9.755")
    with pytest.raises(EventlensError, match="did you mean 'ISO 12482'"):
        recording_factor("automatic", "ISO 12842")


def test_counters_that_are_read_by_hand() -> None:
    # ISO 12482:2014, Table 1: the row of automatic records, 1.0 (one place); makers' manuals: counter and log book,
    # 1.2; FEM 9.755 has 1.1 where the spectrum is estimated, and no factor for counters of loads
    assert recording_factor("counter_read", "ISO 12482") == (1.0, "from one place")
    assert recording_factor("counter_read", "makers' manuals") == (1.2, "from one place")
    with pytest.raises(EventlensError, match="use the set of ISO 12482"):
        recording_factor("counter_read", "FEM 9.755")


def test_worse_records_never_have_a_smaller_factor() -> None:
    order = [
        "automatic",
        "counter_read",
        "counter_spectrum_estimated",
        "documented_production",
        "undocumented_production",
        "unknown",
    ]
    for known in FACTORS.values():
        factors = [known[name][0] for name in order if name in known]
        assert factors == sorted(factors)


def test_hoist_classes_know_no_period() -> None:
    assert safe_period("H4", 10, assumed("L1"), recording="automatic") is None


@given(st.floats(0, 5000), st.floats(0, 1.5), st.floats(0, 1.5))
def test_more_load_never_gives_more_life(hours: float, k1: float, k2: float) -> None:
    light, heavy = (
        safe_period("M5", hours, of_classes([(k, 1.0)]), recording="documented_production")
        for k in (min(k1, k2), max(k1, k2))
    )
    assert light is not None
    assert heavy is not None
    assert heavy.remaining_h <= light.remaining_h


@given(st.lists(st.tuples(st.floats(0, 500), st.floats(0, 1)), min_size=1, max_size=5))
def test_splitting_a_log_does_not_change_the_sum(parts: list[tuple[float, float]]) -> None:
    hours = sum(t for t, _ in parts)
    km = sum(t * ratio**3 for t, ratio in parts) / hours if hours else 0.0
    whole = full_load_h(hours, km, 1.1)
    assert whole == pytest.approx(sum(full_load_h(t, ratio**3, 1.1) for t, ratio in parts))
