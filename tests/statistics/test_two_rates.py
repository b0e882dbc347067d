"""Guards the comparison of two rates: published data, scipy, coverage by simulation, and how long silence must last."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from eventlens import EventlensError
from eventlens.statistics.rates import poisson_limits
from eventlens.statistics.two_rates import (
    compare_rates,
    lower_rate,
    silence,
    silence_for_p,
    smallest_change,
    smallest_rise,
)

WORKED = [
    # events/exposure of the second and the first side; ratio, doubled-tail p, limits. The data are worked examples of
    # the R manual (poisson.test: 11/800, 3011 child-years; 137 cases) or from memory; the answers were recomputed
    # from the definition with scipy's beta distribution
    (11, 800, 21, 3011, 1.971488, 0.112017, 0.858426, 4.277266),
    (41, 28010, 15, 19017, 1.855759, 0.047660, 1.005684, 3.609300),
    (0, 100, 3, 100, 0.0, 0.25, 0.0, 2.419952),
    (60, 51477.5, 30, 54308.7, 2.109998, 0.000856, 1.339736, 3.388366),
]


@pytest.mark.parametrize(("y", "t2", "x", "t1", "ratio", "p", "low", "high"), WORKED)
def test_worked_examples(y: int, t2: float, x: int, t1: float, ratio: float, p: float, low: float, high: float) -> None:
    found = compare_rates(x, t1, y, t2)
    assert found.value == pytest.approx(ratio, abs=5e-7)
    assert found.p == pytest.approx(p, abs=5e-7)
    assert (found.low, found.high) == (pytest.approx(low, abs=5e-7), pytest.approx(high, abs=5e-7))


@pytest.mark.parametrize(
    ("x", "y", "t1", "t2"), [(9, 2, 7.0, 3.0), (0, 4, 1.0, 2.0), (5, 0, 2.0, 9.0), (1, 1, 1.0, 1.0)]
)
def test_against_scipys_binomial(x: int, y: int, t1: float, t2: float) -> None:
    found, share = compare_rates(x, t1, y, t2, 0.9), t2 / (t1 + t2)
    tails = stats.binom.cdf(y, x + y, share), stats.binom.sf(y - 1, x + y, share)
    assert found.p == pytest.approx(min(1.0, 2 * min(tails)))
    of_pi = stats.binomtest(y, x + y).proportion_ci(0.9, method="exact")  # Clopper-Pearson
    assert found.low == pytest.approx(of_pi.low / (1 - of_pi.low) * t1 / t2)
    assert (found.high is None) == (x == 0)
    if found.high is not None:
        assert found.high == pytest.approx(of_pi.high / (1 - of_pi.high) * t1 / t2)


def test_interval_and_p_say_the_same() -> None:
    for x, y in ((10, 2), (10, 3), (6, 0), (5, 0), (0, 6), (3, 12)):
        found = compare_rates(x, 1.0, y, 1.0)
        outside = found.low > 1 or (found.high is not None and found.high < 1)
        assert outside == (found.p < 0.05), (x, y)


def test_nothing_on_either_side_says_nothing() -> None:
    found = compare_rates(0, 5.0, 0, 7.0)
    assert (found.value, found.low, found.high, found.p) == (None, 0.0, None, 1.0)


@pytest.mark.parametrize("wrong", [(-1, 1, 1, 1), (1, 0, 1, 1), (1, 1, 1, math.inf), (1, 1, math.nan, 1)])
def test_what_cannot_be_compared_is_said_in_a_sentence(wrong: tuple[float, float, float, float]) -> None:
    with pytest.raises(EventlensError, match="wanted"):
        compare_rates(*wrong)
    with pytest.raises(EventlensError, match="confidence level"):
        compare_rates(1, 1, 1, 1, level=1.0)
    with pytest.raises(EventlensError, match="spread of 1"):
        compare_rates(1, 1, 1, 1, spread=0.5)


@pytest.mark.parametrize(("mean", "ratio", "part"), [(3.0, 1.0, 1.0), (12.0, 0.4, 0.5), (30.0, 2.0, 0.2)])
def test_the_interval_covers_the_true_ratio(mean: float, ratio: float, part: float) -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(500):
        x, y = int(rng.poisson(mean)), int(rng.poisson(mean * ratio * part))
        found = compare_rates(x, 1.0, y, part)
        held += found.low <= ratio and (found.high is None or found.high >= ratio)
    assert held / 500 >= 0.93  # the exact interval covers 95 % at least; 0.93 is two standard errors of 500 below


def test_silence_is_minus_ln_005_over_the_lower_limit() -> None:
    # 9 in 581 starts: Garwood's lower limit for 9 is 4.1154 (common tables); -ln(0.05) = 2.9957
    assert silence(9, 581) == pytest.approx(2.9957 / (4.1154 / 581), rel=1e-4)
    assert lower_rate(9, 581) == pytest.approx(poisson_limits(9)[0] / 581)
    assert silence(0, 581) is None
    assert silence(18, 581, spread=2) == pytest.approx(silence(9, 581))  # pairs: half as many bursts


def test_a_fault_that_went_on_would_have_shown_in_that_silence() -> None:
    """By simulation: with the true rate at the lower limit or above, silence for so long comes in 5 % or less."""
    needed = silence(9, 581)
    assert needed is not None
    draws = np.random.default_rng(3).poisson(lower_rate(9, 581) * needed, 20_000)
    assert np.mean(draws == 0) == pytest.approx(0.05, abs=0.005)


@pytest.mark.parametrize("count", [1, 4, 30])
def test_silence_for_p_is_where_the_comparison_comes_out(count: int) -> None:
    needed = silence_for_p(count, 200.0, 0.05)
    assert needed is not None
    assert compare_rates(count, 200.0, 0, needed).p == pytest.approx(0.05)
    assert compare_rates(count, 200.0, 0, needed * 0.99).p > 0.05
    assert silence_for_p(0, 200.0, 0.05) is None
    assert silence_for_p(1, 200.0, 0.05, spread=1000) is None  # e to the power of 3689: never


def test_smallest_change_by_trying_all_counts() -> None:
    for x, t2 in ((20, 1.0), (20, 0.5), (200, 2.0)):
        shows = [y for y in range(4 * x) if y < x * t2 and compare_rates(x, 1.0, y, t2).p <= 0.05]
        ratio = smallest_change(x, 1.0, t2)
        assert ratio is not None
        assert 0 < ratio < 1
        assert stats.poisson.cdf(max(shows), ratio * x * t2) == pytest.approx(0.8)


def test_no_change_can_be_shown_from_few_events_or_little_use() -> None:
    assert smallest_change(5, 1.0, 1.0) is None  # 2 * 0.5^5 = 0.0625: by hand
    assert smallest_change(6, 1.0, 1.0) is not None  # 2 * 0.5^6 = 0.03125
    assert smallest_change(6, 1.0, 0.5) is None  # 2 * (2/3)^6 = 0.176
    assert smallest_change(0, 1.0, 1.0) is None


@pytest.mark.parametrize(("count", "part", "spread"), [(40, 0.5, 1.0), (4, 1.0, 1.0), (60, 0.3, 3.0)])
def test_the_smallest_rise_is_shown_four_times_in_five(count: int, part: float, spread: float) -> None:
    ratio = smallest_rise(count, 1.0, part, spread=spread)
    assert ratio is not None
    assert ratio > 1
    mean = ratio * count * part / spread
    counts = np.arange(0, int(10 * mean + 50))
    shown = [y > count * part / spread and compare_rates(count / spread, 1.0, int(y), part).p <= 0.05 for y in counts]
    assert stats.poisson.pmf(counts, mean)[np.array(shown)].sum() == pytest.approx(0.8)
    assert smallest_rise(0, 1.0, 1.0) is None
