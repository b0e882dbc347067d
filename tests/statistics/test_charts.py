"""Guards u charts: published limits, exact limits against scipy, and how often they alarm where nothing has changed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from eventlens import EventlensError
from eventlens.statistics.charts import FALSE_ALARM, run_length, shewhart, u_chart


def test_limits_of_three_deviations() -> None:
    low, high = shewhart(16.0, [1.0])  # 400 defects on 25 units: NIST handbook 6.3.3.1, limits 4 and 28
    assert (low[0], high[0]) == (4.0, 28.0)
    low, high = shewhart(1.48, [10, 12, 8])  # 74 in 50 units; counted by hand
    assert low == pytest.approx([0.3259, 0.4264, 0.1897], abs=5e-5)
    assert high == pytest.approx([2.6341, 2.5336, 2.7703], abs=5e-5)
    assert shewhart(0.5, [1.0])[0][0] == 0.0


def test_the_week_that_is_out_and_no_other() -> None:
    found = u_chart([12, 8, 15, 9, 30], [10, 10, 12, 8, 10])  # the data above, last point out by its three deviations
    assert found.centre == 1.48
    assert found.beyond.tolist() == [0, 0, 0, 0, 1]
    assert found.rates[-1] == 3.0
    assert found.false_alarm == FALSE_ALARM == pytest.approx(2 * stats.norm.sf(3), abs=1e-5)


@pytest.mark.parametrize(("mean", "false_alarm"), [(0.3, 0.0027), (4.0, 0.0027), (4.0, 0.05), (250.0, 0.01)])
def test_known_mean_against_the_poisson_distribution(mean: float, false_alarm: float) -> None:
    found = u_chart([0, 0], [2.0, 5.0], centre=mean, false_alarm=false_alarm)
    for use, low, high in zip((2.0, 5.0), found.low * (2.0, 5.0), found.high * (2.0, 5.0), strict=True):
        here = stats.poisson(mean * use)
        assert here.sf(high) <= false_alarm / 2 < here.sf(high - 1)  # beyond is more than `high`
        assert here.cdf(low - 1) <= false_alarm / 2 < here.cdf(low)


def test_mean_of_the_weeks_against_the_binomial_distribution() -> None:
    counts, uses = np.array([3, 0, 7, 14]), np.array([10.0, 4.0, 12.0, 9.0])
    found = u_chart(counts, uses)
    for x, use, low, high, p in zip(counts, uses, found.low * uses, found.high * uses, found.p, strict=True):
        here = stats.binom(counts.sum(), use / uses.sum())
        assert here.sf(round(high)) <= FALSE_ALARM / 2 < here.sf(round(high) - 1)
        assert here.cdf(round(low) - 1) <= FALSE_ALARM / 2 < here.cdf(round(low))
        assert p == pytest.approx(min(1.0, 2 * min(here.cdf(x), here.sf(x - 1))))


@pytest.mark.parametrize("mean", [0.2, 1.0, 6.0, 60.0])
def test_stable_weeks_alarm_no_oftener_than_stated(mean: float) -> None:
    rng = np.random.default_rng(3)
    uses = rng.uniform(0.3, 1.7, 12)
    weeks = runs = 0
    for _ in range(400):
        found = u_chart(rng.poisson(mean * uses), uses, false_alarm=0.05, run_false_alarm=0.05)
        weeks += int(np.abs(found.beyond).sum())
        runs += found.run is not None
    # three standard deviations of 4800 weeks and of 400 charts above the nominal rate
    assert weeks / 4800 <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 4800)
    assert runs / 400 <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 400)
    if mean >= 6:
        assert weeks > 0.02 * 4800  # it is not silent either


def test_bursts_widen_the_limits() -> None:
    rng = np.random.default_rng(4)
    uses = np.ones(12)
    bursts = [5 * rng.poisson(3.0, 12) for _ in range(300)]  # five at a time: variance five times the mean
    plain = np.mean([np.abs(u_chart(x, uses, false_alarm=0.05).beyond).mean() for x in bursts])
    wide = np.mean([np.abs(u_chart(x, uses, false_alarm=0.05, spread=5.0).beyond).mean() for x in bursts])
    assert plain > 0.2
    assert wide <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 3600)


def test_length_of_a_run() -> None:
    # a coin: of 20 weeks the chance of 9 heads or tails in a row by counting, of 8 too large (large means: no ties)
    def chance(length: int) -> float:
        ending = {0: 1.0}  # length of the run that ends here, of either side
        for _ in range(20):
            ending = {k + 1: (1.0 if k == 0 else 0.5) * p for k, p in ending.items() if k < length} | {
                1: 0.5 * sum(p for k, p in ending.items() if 0 < k < length) or 1.0,
                length: ending.get(length, 0.0) + 0.5 * ending.get(length - 1, 0.0),
            }
        return ending[length]

    assert chance(9) < 0.05 < chance(8)
    assert run_length(np.full(20, 1e9), 0.05) == 9
    assert run_length(np.full(3, 1e9), 0.05) is None
    assert run_length(np.full(20, 0.05), 0.05) is None  # hardly a week has any event: below the mean is the rule


def test_a_run_is_found_where_it_lies() -> None:
    counts, uses = [20] * 10 + [0] + [30] * 10, [1.0] * 10 + [0.0] + [1.0] * 10
    found = u_chart(counts, uses)
    assert found.run_length is not None
    assert found.run == (0, 9)  # the first of two equally long ones; the week without use is no end
    assert found.beyond.sum() == 0
    assert u_chart([20, 30] * 10, [1.0] * 20).run is None


def test_weeks_with_little_use_are_marked_and_those_without_say_nothing() -> None:
    found = u_chart([3, 2, 0, 0, 4], [10.0, 10.0, 1.9, 0.0, 10.0])
    assert found.little.tolist() == [False, False, True, True, False]
    assert np.isnan(found.rates[3])
    assert (found.p[3], found.beyond[3]) == (1.0, 0)
    empty = u_chart([0, 0], [1.0, 2.0])
    assert (empty.centre, empty.beyond.tolist(), empty.high.tolist()) == (0.0, [0, 0], [0.0, 0.0])
    assert u_chart([0], [0.0]).centre == 0.0


@pytest.mark.parametrize(("counts", "uses"), [([1, 2], [1.0]), ([-1], [1.0]), ([1], [0.0]), ([1], [float("nan")])])
def test_what_is_no_chart_is_said_in_a_sentence(counts: list[float], uses: list[float]) -> None:
    with pytest.raises(EventlensError, match="wanted"):
        u_chart(counts, uses)
    with pytest.raises(EventlensError, match="false alarms between"):
        u_chart([1], [1.0], false_alarm=0.0)
    with pytest.raises(EventlensError, match="spread of 1"):
        u_chart([1], [1.0], spread=0.5)
