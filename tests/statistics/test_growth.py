"""Guards trend and growth of failures: published data, tables of multipliers, and simulated failures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from eventlens import EventlensError
from eventlens.statistics.grouped import grouped_beta, grouped_laplace
from eventlens.statistics.growth import CRITICAL, laplace, military, power_law, reverse_arrangements
from eventlens.statistics.growth_limits import rate_limits

GROWTH = [2.7, 10.3, 12.5, 30.6, 57.0, 61.3, 80.0, 109.5, 125.0, 128.6, 143.8, 167.9, 229.2, 296.7, 320.6, 328.2, 366.2]
GROWTH += [396.7, 421.1, 438.2, 501.2, 620.0]
"""22 failures of a system whose reliability grows, watched to the last: reprinted often, from MIL-HDBK-189."""
SHEET = [3236, 17944, 47265, 102322, 133344, 142648, 223793, 296603, 513095, 527440]
"""Ten failures, watched to the last: a published run of both standards' formulas."""
RIG = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]
"""Ten failures, watched to 1500: the repairable system of the NIST handbook 8.2.3.4 (from memory)."""


def test_growth_published_and_recomputed() -> None:
    # sum of logarithms, beta and lambda as published (0.6142, 0.4239); the rest recomputed from the formulas by hand
    assert sum(map(math.log, GROWTH)) == pytest.approx(105.6355, abs=5e-5)
    found = power_law(GROWTH)
    assert (found.beta, found.lam) == (pytest.approx(0.6142104, abs=5e-8), pytest.approx(0.4239422, abs=5e-8))
    assert (found.rate, found.mtbf) == (pytest.approx(0.0217946, abs=5e-8), pytest.approx(45.883, abs=5e-4))
    assert found.beta_unbiased == pytest.approx(0.558373, abs=5e-7)
    assert found.check == pytest.approx(0.049281, abs=5e-7)
    assert (found.critical, found.fits) == (0.172, True)
    assert laplace(GROWTH).statistic == pytest.approx(-2.783160, abs=5e-7)
    tested = military(GROWTH)
    assert tested.statistic == pytest.approx(71.636690, abs=5e-7)
    assert tested.p == pytest.approx(2 * 0.002938, abs=1e-6)


def test_the_sheet_of_both_standards() -> None:
    found = power_law(SHEET)
    assert (found.beta, found.lam) == (pytest.approx(0.5999, abs=5e-5), pytest.approx(0.0037, abs=5e-5))  # published
    unbiased = found.beta_unbiased  # IEC 61164 takes it for the fit: published 0.4799 and 0.0179
    assert unbiased == pytest.approx(0.4799, abs=5e-5)
    assert len(SHEET) / SHEET[-1] ** unbiased == pytest.approx(0.0179, abs=5e-5)
    assert laplace(SHEET).statistic == pytest.approx(-1.955508, abs=5e-7)  # recomputed by hand, as the next
    assert military(SHEET).statistic == pytest.approx(33.339876, abs=5e-7)


def test_the_rig_whose_two_tests_disagree() -> None:
    found = power_law(RIG, 1500)
    assert (found.beta, found.lam) == (pytest.approx(0.537229, abs=5e-7), pytest.approx(0.196658, abs=5e-7))
    assert found.beta_unbiased == pytest.approx(0.483506, abs=5e-7)
    assert 10 / 1500**found.beta_unbiased == pytest.approx(0.291300, abs=5e-7)
    assert found.mtbf == pytest.approx(279.21, abs=5e-3)
    tested = military(RIG, 1500)
    assert tested.statistic == pytest.approx(37.2281, abs=5e-5)
    assert tested.p == pytest.approx(2 * 0.010986, abs=1e-6)
    assert laplace(RIG, 1500).statistic == pytest.approx(-1.326949, abs=5e-7)
    assert tested.p < 0.05 < laplace(RIG, 1500).p
    assert reverse_arrangements(np.diff([0, *RIG])).statistic == 33  # of 45


@pytest.mark.parametrize(
    ("failure", "n", "level", "low", "high"),
    [
        # multipliers of the mean time between failures: MIL-HDBK-189, both tables (from memory)
        (False, 2, 0.80, 0.261, 18.66),
        (False, 2, 0.90, 0.200, 38.66),
        (False, 3, 0.95, 0.217, 14.55),
        (False, 5, 0.80, 0.426, 3.386),
        (False, 5, 0.98, 0.250, 8.043),
        (True, 2, 0.80, 0.8065, 33.76),
        (True, 2, 0.98, 0.2944, 389.9),
        (True, 3, 0.90, 0.5137, 14.24),
        (True, 3, 0.95, 0.4054, 21.96),
    ],
)
def test_limits_are_those_of_the_tables(failure: bool, n: int, level: float, low: float, high: float) -> None:
    of_rate = rate_limits(n, failure_truncated=failure, level=level)
    assert 1 / of_rate[1] == pytest.approx(low, rel=3e-3)
    assert 1 / of_rate[0] == pytest.approx(high, rel=1e-3)


def _failures(rng: np.random.Generator, beta: float, mean: float) -> np.ndarray:
    """Failures of a power law up to 1, `mean` of them on average."""
    return np.sort(rng.uniform(size=rng.poisson(mean)) ** (1 / beta))


@pytest.mark.parametrize("beta", [0.6, 1.0, 2.5])
def test_limits_cover_the_rate_and_the_check_holds_its_level(beta: float) -> None:
    rng = np.random.default_rng(8)
    covered = stopped = misfits = cases = 0
    for _ in range(300):
        times = _failures(rng, beta, 15.0)
        if len(times) < 4:
            continue
        cases += 1
        found = power_law(times, 1.0, 0.9)
        covered += found.rate_low <= 15 * beta <= found.rate_high
        misfits += not found.fits
        ended = power_law(times, level=0.9)
        stopped += ended.rate_low <= 15 * beta * times[-1] ** (beta - 1) <= ended.rate_high
    wide = 3 * math.sqrt(0.1 * 0.9 / cases)
    assert covered / cases >= 0.9 - wide
    assert stopped / cases >= 0.9 - wide
    assert abs(misfits / cases - 0.1) <= wide + 0.01  # critical values are given to three digits


def test_failures_in_two_heaps_are_no_power_law() -> None:
    times = [*np.linspace(0.1, 0.2, 12), *np.linspace(0.9, 1.0, 12)]
    assert power_law(times, 1.0).fits is False
    assert power_law([0.4, 0.7], 1.0).fits is None
    assert CRITICAL[0][0] == 3


@pytest.mark.parametrize("test", [laplace, military])
def test_tests_of_trend_hold_their_level_and_see_wear(test: object) -> None:
    assert callable(test)
    rng = np.random.default_rng(9)
    without = [test(times, 1.0).p < 0.05 for _ in range(400) if len(times := _failures(rng, 1.0, 10.0)) >= 4]
    assert np.mean(without) <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / len(without))
    wear = [test(_failures(rng, 3.0, 20.0), 1.0) for _ in range(50)]
    assert np.mean([found.p < 0.05 for found in wear]) > 0.9
    direction = np.mean([found.statistic for found in wear])
    assert direction > 3 if test is laplace else direction < 20  # U positive, chi-squared small: oftener


@pytest.mark.parametrize("gaps", [[1.0, 2.0, 3.0, 4.0, 5.0], [2.0, 1.0, 4.0, 3.0], [5.0, 1.0, 3.0, 2.0, 4.0, 0.5]])
def test_reverse_arrangements_are_kendalls_tau(gaps: list[float]) -> None:
    assert reverse_arrangements(gaps).p == pytest.approx(
        stats.kendalltau(range(len(gaps)), gaps, method="exact").pvalue
    )


def test_many_gaps_are_as_good_as_normal() -> None:
    rng = np.random.default_rng(2)
    gaps = rng.exponential(size=80) * np.linspace(1, 1.8, 80)
    assert reverse_arrangements(gaps).p == pytest.approx(
        stats.kendalltau(range(80), gaps, method="exact").pvalue, rel=0.05
    )
    assert reverse_arrangements([1.0, 1.0, 1.0]).statistic == 0  # none is longer
    assert reverse_arrangements([1.0, 1.0, 1.0]).p == 1.0


@pytest.mark.parametrize(
    ("times", "end"),
    [([1, 2], None), ([1], 5.0), ([], None), ([], 5.0), ([2, 1, 3], 5.0), ([0, 1], 5.0), ([1, 6], 5.0)],
)
def test_what_shows_no_trend_is_said_in_a_sentence(times: list[float], end: float | None) -> None:
    with pytest.raises(EventlensError, match="wanted"):
        laplace(times, end)
    with pytest.raises(EventlensError, match="gaps"):
        reverse_arrangements([1.0])
    with pytest.raises(EventlensError, match="confidence level"):
        rate_limits(5, failure_truncated=True, level=1.0)
    with pytest.raises(EventlensError, match="two failures"):
        rate_limits(1, failure_truncated=False)


def test_grouped_failures_come_to_the_single_ones() -> None:
    edges = np.linspace(0, 1, 2001)
    times = _failures(np.random.default_rng(3), 1.7, 60.0)
    counts = np.histogram(times, edges)[0]
    uses = np.full(2000, 1 / 2000)
    fine = grouped_laplace(counts, uses)
    assert fine is not None
    assert fine.statistic == pytest.approx(laplace(times, 1.0).statistic, abs=0.01)
    assert grouped_beta(counts, uses) == pytest.approx(power_law(times, 1.0).beta, rel=0.01)


def test_grouped_failures_of_two_weeks_by_hand() -> None:
    # 3 failures in a week of use 1, 9 in a week of use 2: middles 0.5 and 2, mean (0.5 + 4)/3 = 1.5, variance
    # (1 + 2 x 0.25)/3 = 0.5, U = (1.5 + 18 - 18)/sqrt(12 x 0.5)
    found = grouped_laplace([3, 9], [1.0, 2.0])
    assert found is not None
    assert found.statistic == pytest.approx(1.5 / math.sqrt(6))
    halved = grouped_laplace([3, 9], [1.0, 2.0], spread=4.0)
    assert halved is not None
    assert halved.statistic == pytest.approx(0.75 / math.sqrt(6))
    # a quarter of them in the first third: (1/3)^beta = 1/4
    assert grouped_beta([3, 9], [1.0, 2.0]) == pytest.approx(math.log(4) / math.log(3))


def test_grouped_failures_that_say_nothing() -> None:
    assert grouped_laplace([0, 0], [1.0, 1.0]) is None
    assert grouped_laplace([2, 0], [1.0, 0.0]) is None
    for counts in ([0, 0, 0], [4, 0, 0], [0, 0, 4]):
        assert grouped_beta(counts, [1.0, 1.0, 1.0]) is None
    with pytest.raises(EventlensError, match="a use"):
        grouped_laplace([1], [1.0, 2.0])


@pytest.mark.parametrize("mean", [0.5, 4.0])
def test_grouped_trend_holds_its_level(mean: float) -> None:
    rng = np.random.default_rng(6)
    uses = rng.uniform(0.2, 2.0, 12)
    found = [grouped_laplace(rng.poisson(mean * uses), uses) for _ in range(800)]
    alarms = np.mean([one is not None and one.p < 0.05 for one in found])
    assert alarms <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 800)
