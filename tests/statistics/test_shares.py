"""Guards shares: published examples, the plain case beside other programs, and how spread and days widen."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from eventlens.statistics.shares import difference, unequal, wilson

MANY = 10**9
"""Days: Student's t is the normal distribution then."""


@pytest.mark.parametrize(
    ("count", "whole", "low", "high"),
    [
        # Newcombe, Stat. Med. 17 (1998) 857, table I, method 3: from memory
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_limits_of_a_share_are_those_that_were_published(count: int, whole: int, low: float, high: float) -> None:
    lows, highs = wilson([count], [whole], 1.0, MANY, 0.95)
    assert (float(lows[0]), float(highs[0])) == pytest.approx((low, high), abs=1e-4)


@pytest.mark.parametrize(
    ("one", "other", "low", "high"),
    [
        # Newcombe, Stat. Med. 17 (1998) 873, table II, method 10: from memory
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
    ],
)
def test_limits_of_a_difference_are_those_that_were_published(
    one: tuple[int, int], other: tuple[int, int], low: float, high: float
) -> None:
    found = difference(*other, *one, 1.0, MANY, 0.95)
    assert found.value == pytest.approx(one[0] / one[1] - other[0] / other[1])
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-4)


def test_shares_of_many_are_held_against_each_other_as_in_a_table() -> None:
    counts, wholes = np.array([30, 45, 38]), np.array([100, 100, 110])
    expected = stats.chi2_contingency(np.array([counts, wholes - counts]), correction=False)
    assert unequal(counts, wholes, 1.0, MANY) == pytest.approx(expected.pvalue, rel=1e-6)
    two = difference(30, 100, 45, 100, 1.0, MANY, 0.95)  # of two the same as the test of their difference
    assert two.p == pytest.approx(unequal(counts[:2], wholes[:2], 1.0, MANY), rel=1e-6)


def test_spread_counts_as_fewer_and_few_days_widen() -> None:
    narrow = wilson([40], [100], 1.0, MANY, 0.95)
    wide = wilson([40], [100], 4.0, MANY, 0.95)
    assert np.allclose(wide, wilson([10], [25], 1.0, MANY, 0.95))
    few = wilson([40], [100], 1.0, 5, 0.95)
    assert wide[0][0] < narrow[0][0]
    assert few[0][0] < narrow[0][0] < narrow[1][0] < few[1][0]
    assert difference(30, 100, 45, 100, 4.0, 9, 0.95).p > difference(30, 100, 45, 100, 1.0, 9, 0.95).p
    assert unequal([30, 45], [100, 100], 4.0, 9) > unequal([30, 45], [100, 100], 1.0, 9)


def test_nothing_says_nothing() -> None:
    lows, highs = wilson([0, 5], [0, 5], 1.0, 10, 0.95)
    assert (lows[0], highs[0]) == (0.0, 1.0)
    assert 0 < lows[1] < highs[1] == 1.0
    assert unequal([5], [10], 1.0, 10) == 1.0
    assert unequal([0, 0], [10, 20], 1.0, 10) == 1.0
    assert difference(0, 10, 0, 20, 1.0, 10, 0.95).p == 1.0
