"""Whether measured times have moved: the shift between two samples, with an interval that outliers do not move.

The shift is that of Hodges and Lehmann (Ann. Math. Stat. 34, 1963): the median of all differences, after less before.
Its interval is made of two of these differences, by the ranks of the Mann-Whitney statistic in its normal
approximation (Hollander and Wolfe, Nonparametric Statistical Methods, 4.3: from memory). The p-value is scipy's
Mann-Whitney. Both take the times for independent: a brake that drifts or warms up within a log makes them too sure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import polars as pl

from eventlens.errors import EventlensError
from eventlens.statistics.rates import LEVEL

LEAST: Final = 5
"""Times on each side below which no shift is judged: with four against four a difference shows at 95 % only where
no time of one side lies among those of the other (common practice)."""


@dataclass(frozen=True)
class Shift:
    """How far times have moved [s], after less before."""

    value: float
    low: float
    high: float
    p: float


def shift(before: pl.Series, after: pl.Series, level: float = LEVEL) -> Shift | None:
    """The shift of times [s], known to the microsecond; nulls are left out. None with fewer than LEAST on a side.

    level: two-sided, in (0, 1). Exact whatever the number of times: no pair of them is ever formed.
    """
    if not 0 < level < 1:
        raise EventlensError("a confidence level between 0 and 1", str(level), "give a share such as 0.95")
    x, y = _sorted(before), _sorted(after)
    n, m = len(x), len(y)
    if min(n, m) < LEAST:
        return None
    from scipy.special import ndtri  # loaded only when asked for

    pairs = n * m
    wide = float(ndtri((1 + level) / 2)) * math.sqrt(n * m * (n + m + 1) / 12)
    rank = max(1, round(pairs / 2 - wide))
    middle = (_difference(x, y, (pairs + 1) // 2) + _difference(x, y, pairs // 2 + 1)) / 2
    low, high = _difference(x, y, rank), _difference(x, y, pairs + 1 - rank)
    return Shift(middle / 1e6, low / 1e6, high / 1e6, _p(x, y))


def _sorted(times: pl.Series) -> Any:
    """Times in whole microseconds, ascending."""
    return np.sort((times.drop_nulls().to_numpy() * 1e6).round().astype(np.int64))


def _difference(x: Any, y: Any, rank: int) -> int:
    """The rank-th smallest (from 1) of all y - x: the least d that is not exceeded by so many of them."""
    low, high = int(y[0] - x[-1]), int(y[-1] - x[0])
    while low < high:
        middle = (low + high) // 2
        if int(np.searchsorted(y, x + middle, side="right").sum()) >= rank:
            high = middle
        else:
            low = middle + 1
    return low


def _p(x: Any, y: Any) -> float:
    if x[0] == x[-1] == y[0] == y[-1]:  # nothing differs, and the statistic has no spread
        return 1.0
    from scipy.stats import mannwhitneyu

    return float(mannwhitneyu(x, y, alternative="two-sided").pvalue)
