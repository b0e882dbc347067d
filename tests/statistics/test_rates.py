"""Guards the exact Poisson limits: against printed tables, against the definition itself, and their coverage."""

from __future__ import annotations

import math
import subprocess
import sys

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens.errors import EventlensError
from eventlens.statistics.rates import Rate, poisson_limits, poisson_limits_many, rate

# Limits of the mean for an observed count, at 90, 95 and 99 %, computed from Garwood's definition (Biometrika 1936)
# by chi-squared quantiles: chi2(a/2; 2n)/2 and chi2(1 - a/2; 2n + 2)/2, to four places.
GARWOOD = [
    (0, 0, 2.9957, 0, 3.6889, 0, 5.2983),
    (1, 0.0513, 4.7439, 0.0253, 5.5716, 0.0050, 7.4301),
    (2, 0.3554, 6.2958, 0.2422, 7.2247, 0.1035, 9.2738),
    (3, 0.8177, 7.7537, 0.6187, 8.7673, 0.3379, 10.9775),
    (4, 1.3663, 9.1535, 1.0899, 10.2416, 0.6722, 12.5941),
    (5, 1.9701, 10.5130, 1.6235, 11.6683, 1.0779, 14.1498),
    (6, 2.6130, 11.8424, 2.2019, 13.0595, 1.5369, 15.6597),
    (7, 3.2853, 13.1481, 2.8144, 14.4227, 2.0373, 17.1336),
    (8, 3.9808, 14.4346, 3.4538, 15.7632, 2.5711, 18.5782),
    (9, 4.6952, 15.7052, 4.1154, 17.0848, 3.1324, 19.9984),
    (10, 5.4254, 16.9622, 4.7954, 18.3904, 3.7169, 21.3978),
    (12, 6.9242, 19.4426, 6.2006, 20.9616, 4.9431, 24.1449),
    (15, 9.2463, 23.0971, 8.3954, 24.7402, 6.8934, 28.1641),
    (20, 13.2547, 29.0620, 12.2165, 30.8884, 10.3533, 34.6680),
    (25, 17.3821, 34.9161, 16.1787, 36.9049, 13.9954, 41.0004),
    (30, 21.5940, 40.6905, 20.2409, 42.8269, 17.7672, 47.2093),
    (50, 38.9647, 63.2871, 37.1110, 65.9188, 33.6638, 71.2661),
    (100, 84.1393, 118.0793, 81.3640, 121.6268, 76.1205, 128.7606),
]

# The same limits as printed in public tables, to the places printed there: count, level, low, high.
PRINTED = [
    (0, 0.95, 0.0, 3.69, 2),
    (10, 0.95, 4.80, 18.39, 2),
    (25, 0.90, 17.38, 34.92, 2),
    (25, 0.95, 16.18, 36.90, 2),
    (25, 0.99, 14.00, 41.00, 2),
]

counts = st.integers(0, 400)
levels = st.floats(0.5, 0.999)


def probability(n: int, mean: float) -> float:
    """Poisson probability of n events."""
    return math.exp(n * math.log(mean) - mean - math.lgamma(n + 1)) if mean > 0 else float(n == 0)


def at_most(n: int, mean: float) -> float:
    return math.fsum(probability(k, mean) for k in range(n + 1))


@pytest.mark.parametrize("line", GARWOOD, ids=lambda line: f"n={line[0]}")
def test_table_of_garwood_limits(line: tuple[float, ...]) -> None:
    n, *limits = line
    for place, level in enumerate((0.90, 0.95, 0.99)):
        assert poisson_limits(int(n), level) == pytest.approx(limits[2 * place : 2 * place + 2], abs=5.1e-5)


@pytest.mark.parametrize(("n", "level", "low", "high", "places"), PRINTED)
def test_printed_limits(n: int, level: float, low: float, high: float, places: int) -> None:
    assert poisson_limits(n, level) == pytest.approx((low, high), abs=0.51 * 10**-places)


def test_lower_limit_of_nothing_is_exactly_zero() -> None:
    assert poisson_limits(0)[0] == 0.0


def test_upper_limit_of_nothing_has_a_closed_form() -> None:
    # exp(-high) = (1 - level)/2, the definition for a count of 0
    assert poisson_limits(0, 0.95)[1] == pytest.approx(-math.log(0.025), rel=1e-12)


@given(counts, levels)
def test_limits_fulfil_their_definition(n: int, level: float) -> None:
    low, high = poisson_limits(n, level)
    assert at_most(n, high) == pytest.approx((1 - level) / 2, rel=1e-6)
    if n:
        assert 1 - at_most(n - 1, low) == pytest.approx((1 - level) / 2, rel=1e-6)


@given(counts, levels)
def test_limits_rise_with_the_count_and_enclose_it(n: int, level: float) -> None:
    low, high = poisson_limits(n, level)
    low_next, high_next = poisson_limits(n + 1, level)
    assert low < low_next
    assert high < high_next
    assert low <= n < high


@given(counts, st.floats(0.5, 0.99), st.floats(0.001, 0.009))
def test_a_higher_level_gives_a_wider_interval(n: int, level: float, more: float) -> None:
    low, high = poisson_limits(n, level)
    low_wide, high_wide = poisson_limits(n, level + more)
    assert high_wide > high
    assert low_wide < low or n == 0


@pytest.mark.parametrize("level", [0.80, 0.95, 0.99])
@pytest.mark.parametrize("mean", [0.01, 0.3, 1.0, 2.5, 3.7, 5.0, 10.0, 33.3])
def test_coverage_is_never_below_the_level(mean: float, level: float) -> None:
    low, high = poisson_limits_many(pl.Series(range(150)), level)
    covered = math.fsum(probability(n, mean) for n, (a, b) in enumerate(zip(low, high, strict=True)) if a <= mean <= b)
    assert covered >= level


@given(st.lists(st.none() | st.integers(0, 10_000), max_size=20), levels)
def test_a_column_gives_what_its_counts_give_one_by_one(values: list[int | None], level: float) -> None:
    low, high = poisson_limits_many(pl.Series(values, dtype=pl.UInt32), level)
    assert pl.DataFrame([low, high]).schema == pl.Schema({"low": pl.Float64, "high": pl.Float64})
    one_by_one = [(None, None) if n is None else poisson_limits(n, level) for n in values]
    assert list(zip(low, high, strict=True)) == one_by_one


def test_rate_is_count_and_limits_over_exposure() -> None:
    # limits of 10 at 95 % from the table, over 4 hours
    found = rate(10, 4.0)
    assert found is not None
    assert (found.value, found.low, found.high) == pytest.approx((2.5, 4.7954 / 4, 18.3904 / 4), abs=2e-5)


def test_rate_of_nothing_has_an_upper_limit() -> None:
    assert rate(0, 1.0) == Rate(0.0, 0.0, poisson_limits(0)[1])


def test_no_exposure_gives_no_rate_and_the_least_exposure_does() -> None:
    assert rate(3, 0.0) is None
    assert rate(3, 1e-9) is not None


@pytest.mark.parametrize("count", [-1, -100])
def test_counts_below_zero_are_refused(count: int) -> None:
    with pytest.raises(EventlensError, match=f"wanted counts not below 0, got {count}; correct the count"):
        poisson_limits(count)
    with pytest.raises(EventlensError, match="counts not below 0"):
        poisson_limits_many(pl.Series([3, None, count]))


@pytest.mark.parametrize("level", [0.0, 1.0, -0.1, 95.0, math.nan])
def test_levels_outside_zero_to_one_are_refused(level: float) -> None:
    with pytest.raises(EventlensError, match="a confidence level between 0 and 1"):
        poisson_limits(3, level)


@pytest.mark.parametrize("exposure", [-1e-9, math.nan, math.inf])
def test_impossible_exposures_are_refused(exposure: float) -> None:
    with pytest.raises(EventlensError, match="an exposure not below 0"):
        rate(3, exposure)


def test_numbers_that_are_no_counts_are_refused() -> None:
    with pytest.raises(EventlensError, match="whole numbers of events, got Float64"):
        poisson_limits_many(pl.Series([1.5]))


def test_importing_does_not_load_scipy() -> None:
    code = "import eventlens.statistics.rates, sys; print(any(name.split('.')[0] == 'scipy' for name in sys.modules))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"
