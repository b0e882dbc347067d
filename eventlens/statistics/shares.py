"""Shares: limits of one, the difference of two, and whether many are alike; runs of a day may be alike.

spread: variance of a count over that of independent trials, 1 or more; days: how many degrees of freedom it was
estimated from. Counts are taken for so many fewer trials, and the quantiles are those of Student's t and Fisher's F.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from eventlens.statistics.arrays import Floats, Numbers


@dataclass(frozen=True)
class Difference:
    """A share less another one."""

    value: float
    low: float
    high: float
    p: float
    """Two-sided."""


def wilson(counts: Numbers, wholes: Numbers, spread: float, days: int, level: float) -> tuple[Floats, Floats]:
    """Limits of shares (Wilson, J. Am. Stat. Assoc. 22, 1927); 0 and 1 where there is nothing."""
    n = np.asarray(wholes, float) / spread
    share = np.divide(np.asarray(counts, float) / spread, n, out=np.zeros_like(n), where=n > 0)
    z = _quantile(days, level)
    middle = (share + z**2 / (2 * np.maximum(n, 1e-12))) / (1 + z**2 / np.maximum(n, 1e-12))
    half = z * np.sqrt(share * (1 - share) / np.maximum(n, 1e-12) + (z / (2 * np.maximum(n, 1e-12))) ** 2)
    half /= 1 + z**2 / np.maximum(n, 1e-12)
    low, high = np.clip(middle - half, 0.0, 1.0), np.clip(middle + half, 0.0, 1.0)
    return np.where(n > 0, low, 0.0), np.where(n > 0, high, 1.0)


def difference(
    count: int, whole: int, later: int, later_whole: int, spread: float, days: int, level: float
) -> Difference:
    """The later share less the earlier one, with limits from those of both (Newcombe, Stat. Med. 17, 1998, method 10:
    from memory). Both wholes are above 0. p: pooled, by Student's t."""
    from scipy.special import stdtr  # loaded only when asked for

    before, since = count / whole, later / later_whole
    low, high = wilson([count, later], [whole, later_whole], spread, days, level)
    value = since - before
    down = float(np.hypot(since - low[1], high[0] - before))
    up = float(np.hypot(high[1] - since, before - low[0]))
    pooled = (count + later) / (whole + later_whole)
    error = float(np.sqrt(spread * pooled * (1 - pooled) * (1 / whole + 1 / later_whole)))
    p = 2 * float(stdtr(days, -abs(value) / error)) if error else 1.0
    return Difference(value, value - down, value + up, p)


def unequal(counts: Numbers, wholes: Numbers, spread: float, days: int) -> float:
    """p-value of shares that differ by more than chance and spread: chi-squared over its degrees, by Fisher's F.

    1 where there are fewer than two shares, or all are 0 or 1.
    """
    from scipy.special import fdtrc  # loaded only when asked for

    x, n = np.asarray(counts, float), np.asarray(wholes, float)
    share = float(x.sum() / n.sum()) if n.sum() else 0.0
    if len(x) < 2 or not 0 < share < 1:
        return 1.0
    squares = float(((x - share * n) ** 2 / (n * share * (1 - share))).sum()) / (len(x) - 1)
    return float(fdtrc(len(x) - 1, days, squares / spread))


def _quantile(days: int, level: float) -> Any:
    from scipy.special import stdtrit  # loaded only when asked for

    return float(stdtrit(days, (1 + level) / 2))
