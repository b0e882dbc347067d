"""Guards bounds that hold at every look: their definition by numbers, and coverage over all looks by simulation."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy import integrate, stats

from eventlens import EventlensError
from eventlens.statistics.anytime import SHAPE, anytime_bounds
from eventlens.statistics.rates import rate


def mixture(r: float, n: int, t: float, b: float) -> float:
    """The likelihood ratio against r, averaged over the gamma distribution by quadrature."""
    prior = stats.gamma(SHAPE, scale=1 / b)
    pieces = [0.0, 1e-6, 1e-3, 0.1, 1.0, 3.0, 10.0, 60.0]
    ratio = [
        integrate.quad(lambda q: prior.pdf(q) * (q / r) ** n * math.exp(-(q - r) * t), low, high)[0]
        for low, high in pairwise(pieces)
    ]
    return sum(ratio)


@pytest.mark.parametrize(("n", "t"), [(1, 0.5), (4, 3.0), (12, 4.0)])
def test_at_its_ends_the_averaged_likelihood_ratio_is_twenty(n: int, t: float) -> None:
    found = anytime_bounds([n], [t], SHAPE / 2.0)
    for end in (found.low[0], found.high[0]):
        assert mixture(end, n, t, 2.0) == pytest.approx(20.0, rel=1e-5)
    assert found.low[0] < n / t < found.high[0]


def test_before_the_first_event_and_before_any_use() -> None:
    found = anytime_bounds([0, 0, 0], [0.0, 1.0, 9.0], SHAPE / 3.0)
    assert found.low.tolist() == [0.0, 0.0, 0.0]
    assert found.high[0] == math.inf
    # M = exp(r t) (b/(b + t))^a = 20, solved by hand
    assert found.high[1:] == pytest.approx(
        [math.log(20) + 0.5 * math.log(4 / 3), (math.log(20) + 0.5 * math.log(4)) / 9]
    )


@pytest.mark.parametrize("mean", [0.3, 3.0, 40.0])
def test_they_hold_at_all_looks_where_limits_of_one_look_fail(mean: float) -> None:
    rng = np.random.default_rng(21)
    uses = np.arange(1.0, 366.0)  # a look each day of a year
    left = single = 0
    for _ in range(300):
        counts = np.cumsum(rng.poisson(mean, 365))
        found = anytime_bounds(counts, uses, 10.0)
        left += bool(((found.low > mean) | (found.high < mean)).any())
        tails = np.minimum(stats.poisson.cdf(counts, mean * uses), stats.poisson.sf(counts - 1, mean * uses))
        single += bool((tails < 0.025).any())
    assert left / 300 <= 0.05
    assert single / 300 > 0.15


def test_the_price_is_moderate_and_falls_behind_no_count_of_any_size() -> None:
    found = anytime_bounds([100, 10**7], [100.0, 1e7], 1.0)
    once = [rate(100, 100.0), rate(10**7, 1e7)]
    for low, high, one in zip(found.low, found.high, once, strict=True):
        assert one is not None
        assert low < one.low < one.high < high
        assert high - low < 2.5 * (one.high - one.low)
    few = anytime_bounds([100], [100.0], 1000.0)  # a rate a thousand times too high costs little
    assert few.high[0] - few.low[0] < 1.3 * (found.high[0] - found.low[0])


def test_bursts_widen_them() -> None:
    plain, wide = anytime_bounds([50], [10.0], 5.0), anytime_bounds([50], [10.0], 5.0, spread=4.0)
    assert wide.low[0] < plain.low[0] < plain.high[0] < wide.high[0]
    assert wide.low[0] < 5.0 < wide.high[0]


@pytest.mark.parametrize(
    ("counts", "uses", "likely"),
    [
        ([2, 1], [1.0, 2.0], 1.0),
        ([1, 1], [2.0, 1.0], 1.0),
        ([1], [0.0], 1.0),
        ([1], [1.0], 0.0),
        ([1], [1.0, 2.0], 1.0),
    ],
)
def test_what_is_no_history_is_said_in_a_sentence(counts: list[float], uses: list[float], likely: float) -> None:
    with pytest.raises(EventlensError, match="wanted"):
        anytime_bounds(counts, uses, likely)
    with pytest.raises(EventlensError, match="confidence level"):
        anytime_bounds([1], [1.0], 1.0, level=0.0)
