"""Guards machines side by side: limits against the Poisson distribution, shrinkage by quadrature, ranks by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from eventlens import EventlensError
from eventlens.statistics.funnel import LEVELS, funnel, funnel_limits, ranks, shrink


@pytest.mark.parametrize("level", LEVELS)
def test_limits_lie_between_the_counts_that_bound_them(level: float) -> None:
    uses = np.array([0.5, 3.0, 40.0, 4000.0])
    low, high = funnel_limits(2.0, uses, level)
    for use, below, above in zip(uses, low, high, strict=True):
        here = stats.poisson(2.0 * use)
        assert here.sf(math.ceil(above * use) - 1) <= (1 - level) / 2 + here.pmf(math.ceil(above * use))
        assert here.sf(math.ceil(above * use)) <= (1 - level) / 2
        assert below == 0 or here.cdf(math.floor(below * use)) <= (1 - level) / 2 + 1e-12
    z = stats.norm.ppf((1 + level) / 2)  # with so much use it is normal
    assert high[-1] == pytest.approx(2 + z * math.sqrt(2 / 4000), abs=5e-4)
    assert low[-1] == pytest.approx(2 - z * math.sqrt(2 / 4000), abs=5e-4)


def test_interpolation_by_hand() -> None:
    # mean 1: F(0) = 0.36788, F(1) = 0.73576, F(2) = 0.91970, F(3) = 0.98101; the upper 95 % limit lies between 2 and 3
    low, high = funnel_limits(1.0, [1.0], 0.95)
    assert high[0] == pytest.approx(3 - (0.98101 - 0.975) / (0.98101 - 0.91970), abs=1e-4)
    assert low[0] == 0.0


def test_one_event_in_a_short_log_is_within_the_limits_and_many_in_a_long_one_are_not() -> None:
    found = funnel([1, 10, 12, 40, 9, 11, 10, 12], [0.5, 50.0, 60.0, 50.0, 45.0, 52.0, 50.0, 48.0])
    assert found.rates.argmax() == 0
    assert found.beyond.tolist() == [0, 0, 0, 2, 0, 0, 0, 0]


def test_machines_alike_are_beyond_as_often_as_stated_and_unlike_ones_open_the_limits() -> None:
    rng = np.random.default_rng(31)
    alike = unlike = closed = spread = 0.0
    for _ in range(300):
        uses = rng.uniform(5.0, 50.0, 12)
        alike += float((np.abs(funnel(rng.poisson(uses), uses).beyond) > 0).mean()) / 300
        counts = rng.poisson(rng.gamma(10.0, 0.1, 12) * uses)
        found = funnel(counts, uses)
        unlike += float((np.abs(found.beyond) > 0).mean()) / 300
        spread += found.spread / 300
        low, high = funnel_limits(found.centre, uses, LEVELS[0])
        closed += float(((found.rates < low) | (found.rates > high)).mean()) / 300
    assert alike <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 3600)  # three standard deviations of 3600 machines
    assert spread > 1.5
    assert unlike < 0.5 * closed


def test_shrunk_rates_by_a_plain_sum() -> None:
    counts, uses = [1, 30, 55, 90, 24], [0.2, 60.0, 50.0, 45.0, 40.0]
    found = shrink(counts, uses)
    assert found is not None
    centre, laws = 200 / 195.2, []
    for pull in np.linspace(0.0025, 0.9975, 200):  # finer than the program, and means over a fixed range
        shape = centre * 45.0 * pull / (1 - pull)
        for mean in centre * np.exp(np.linspace(-2.5, 2.5, 101)):
            chances = stats.nbinom.pmf(counts, shape, 1 / (1 + mean * np.array(uses) / shape))
            laws.append((float(np.prod(chances)), shape, shape / mean))
    weights, shapes, rates = np.array(laws).T
    weights /= weights.sum()
    for at, (x, n) in enumerate(zip(counts, uses, strict=True)):
        posterior = stats.gamma(shapes + x, scale=1 / (rates + n))
        assert found.rates[at] == pytest.approx((weights * posterior.mean()).sum(), rel=2e-3)
        assert (weights * posterior.cdf(found.low[at])).sum() == pytest.approx(0.025, abs=1e-3)
        assert (weights * posterior.cdf(found.high[at])).sum() == pytest.approx(0.975, abs=1e-3)


def test_the_short_log_no_longer_wins_and_is_pulled_most() -> None:
    found = shrink([1, 30, 55, 90, 24], [0.2, 60.0, 50.0, 45.0, 40.0])
    assert found is not None
    assert found.rates.argmax() == 3  # though 1 in 0.2 is five times the common rate
    assert found.rates[3] < 2.0  # 90 in 45, pulled down
    assert found.pulled.argmax() == 0
    assert found.pulled[0] > 0.9 > 0.2 > found.pulled[3]


def test_sisters_that_are_alike_share_nearly_one_rate() -> None:
    found = shrink([10, 11, 10, 9], [10.0, 10.0, 10.0, 10.0])
    assert found is not None
    assert np.ptp(found.rates) < 0.1
    assert (found.low < 1.0).all()
    assert (found.high > 1.0).all()
    assert ranks(found.low, found.high) == [(1, 4)] * 4
    assert shrink([3], [1.0]) is None
    assert shrink([0, 0], [1.0, 2.0]) is None


@pytest.mark.parametrize(("sisters", "shape"), [(4, 3.0), (10, 3.0), (6, 50.0)])
def test_shrinking_is_nearer_the_truth_and_its_limits_hold_it(sisters: int, shape: float) -> None:
    rng = np.random.default_rng(32)
    raw = shrunk = held = 0.0
    for _ in range(100):
        rates, uses = rng.gamma(shape, 1.5 / shape, sisters), rng.uniform(0.5, 20.0, sisters)
        counts = rng.poisson(rates * uses)
        found = shrink(counts, uses)
        if found is not None:
            raw += float(((counts / uses - rates) ** 2).mean())
            shrunk += float(((found.rates - rates) ** 2).mean())
            held += float(((found.low <= rates) & (rates <= found.high)).mean())
    assert shrunk < 0.85 * raw
    assert held / 100 >= 0.95 - 3 * math.sqrt(0.05 * 0.95 / (100 * sisters))


def test_ranks_are_what_the_limits_leave_open() -> None:
    assert ranks([5.0, 1.0, 1.5, 0.0], [9.0, 2.0, 3.0, 0.5]) == [(1, 1), (2, 3), (2, 3), (4, 4)]
    assert ranks([1.0, 2.0], [2.0, 3.0]) == [(1, 2), (1, 2)]  # they touch: not separated


@pytest.mark.parametrize(("counts", "uses"), [([], []), ([1], [0.0]), ([-1], [1.0]), ([1, 2], [1.0])])
def test_what_cannot_stand_side_by_side_is_said_in_a_sentence(counts: list[float], uses: list[float]) -> None:
    with pytest.raises(EventlensError, match="a use above 0"):
        funnel(counts, uses)
