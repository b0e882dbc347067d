"""Guards the shift of measured times and their drift, against all pairs written out and against scipy."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest
from scipy import stats

from eventlens import EventlensError
from eventlens.statistics.shift import LEAST, shift
from eventlens.statistics.slope import LEAST_DAYS, daily_slope


@pytest.mark.parametrize(("n", "m", "step"), [(5, 5, 1e-6), (7, 20, 0.01), (31, 18, 0.02)])
def test_against_all_pairs(n: int, m: int, step: float) -> None:
    rng = np.random.default_rng(n)
    x, y = (np.round(rng.gamma(9, 0.03, size) / step) * step for size in (n, m))
    found = shift(pl.Series(x), pl.Series(y), 0.9)
    pairs = sorted(round((b - a) * 1e6) / 1e6 for a, b in itertools.product(x, y))
    assert found is not None
    assert found.value == pytest.approx(np.median(pairs), abs=1.1e-6)
    rank = round(n * m / 2 - 1.6449 * (n * m * (n + m + 1) / 12) ** 0.5)  # normal quantile of 95 %: common tables
    assert found.low == pytest.approx(pairs[rank - 1], abs=1.1e-6)
    assert found.high == pytest.approx(pairs[n * m - rank], abs=1.1e-6)
    assert found.p == pytest.approx(stats.mannwhitneyu(x, y).pvalue, abs=1e-3)


def test_the_interval_of_a_shift_covers_it() -> None:
    rng = np.random.default_rng(2)
    held = 0
    for _ in range(300):
        found = shift(pl.Series(rng.gamma(9, 0.03, 15)), pl.Series(rng.gamma(9, 0.03, 25) + 0.05))
        assert found is not None
        held += found.low <= 0.05 <= found.high
    assert held / 300 >= 0.92  # 95 % less two standard errors of 300


def test_times_that_never_differ_have_not_moved() -> None:
    found = shift(pl.Series([0.4] * 8), pl.Series([0.4] * 9))
    assert found is not None
    assert (found.value, found.low, found.high, found.p) == (0.0, 0.0, 0.0, 1.0)


def test_too_few_times_and_no_times_are_not_judged() -> None:
    assert shift(pl.Series([0.1] * (LEAST - 1)), pl.Series([0.2] * 99)) is None
    assert shift(pl.Series([0.1] * LEAST), pl.Series([0.2] * LEAST)) is not None
    assert shift(pl.Series([None] * 9, dtype=pl.Float64), pl.Series([0.2] * 9)) is None
    with pytest.raises(EventlensError, match="confidence level"):
        shift(pl.Series([0.1]), pl.Series([0.2]), 0.0)


def test_a_drift_is_that_of_the_daily_medians() -> None:
    days = [0, 1, 2, 3, 5, 8]
    at = pl.Series([datetime(2026, 3, 2, 7, tzinfo=UTC) + timedelta(days=d, hours=h) for d in days for h in (0, 1, 2)])
    values = pl.Series([0.2 + 0.01 * d + off for d in days for off in (0.0, 0.001, 5.0)])  # the median is the second
    found = daily_slope(at, values, "UTC")
    assert found is not None
    assert found.per_day == pytest.approx(0.01)
    assert (found.low, found.high) == (pytest.approx(0.01), pytest.approx(0.01))
    assert found.days == 6


def test_a_drift_needs_so_many_days() -> None:
    at = [datetime(2026, 3, 2, 7, tzinfo=UTC) + timedelta(days=d) for d in range(LEAST_DAYS)]
    values = [0.2 + 0.01 * d for d in range(LEAST_DAYS)]
    assert daily_slope(pl.Series(at), pl.Series(values), "UTC") is not None
    assert daily_slope(pl.Series(at[1:]), pl.Series(values[1:]), "UTC") is None
