"""Trend of failures that are only counted, week by week: Laplace's test and the power law for grouped failures.

Week i ends at the use T(i) since the beginning and holds x(i) failures. Given their number N, without trend each of
them falls into a week with that week's share of the use. Laplace's test then takes the middle of the week for the time
of the failure; its variance is that of the middles, so that coarse weeks cost power but never raise false alarms. The
power law is fitted by maximum likelihood to the counts (MIL-HDBK-189, grouped data). Bursts divide the number of
failures: U is divided by the root of the spread.
"""

from __future__ import annotations

import math

import numpy as np

from eventlens.errors import EventlensError
from eventlens.statistics.arrays import Floats, Numbers
from eventlens.statistics.growth import Trend


def grouped_laplace(counts: Numbers, uses: Numbers, spread: float = 1.0) -> Trend | None:
    """Laplace's U from counts of weeks over their uses, and its two-sided p-value; positive where they come oftener.

    None without failures, or where fewer than two weeks have use. spread: `bursts.spread`, 1 or more.
    """
    x, n = _weeks(counts, uses)
    whole, span = float(x.sum()), float(n.sum())
    if not whole or (n > 0).sum() < 2:
        return None
    middles = np.cumsum(n) - n / 2
    mean = float((n * middles).sum()) / span
    variance = float((n * (middles - mean) ** 2).sum()) / span
    u = (float((x * middles).sum()) - whole * mean) / math.sqrt(whole * variance * spread)
    return Trend(u, math.erfc(abs(u) / math.sqrt(2)))


def grouped_beta(counts: Numbers, uses: Numbers) -> float | None:
    """beta of the power law by maximum likelihood from counts of weeks; 1 is no trend, above 1 they come oftener.

    None where the counts do not bound it: without failures, with all of them in the first or all in the last week.
    """
    x, n = _weeks(counts, uses)
    x, n = x[n > 0], n[n > 0]
    if not x.sum() or len(x) < 2 or x[0] == x.sum() or x[-1] == x.sum():
        return None
    from scipy.optimize import brentq  # loaded only when asked for

    logs = np.log(np.cumsum(n) / n.sum())
    steps = np.diff(logs)

    def score(logged: float) -> float:
        """The derivative by b of the log-likelihood, that of the shares (T(i)^b - T(i-1)^b)/T^b of the weeks."""
        growing = steps / np.expm1(np.minimum(math.exp(logged) * steps, 700.0))
        return float((x * logs).sum() + (x[1:] * growing).sum())

    low, high = math.log(1e-4), math.log(1e3)
    if score(low) * score(high) >= 0:
        return None
    return math.exp(float(brentq(score, low, high)))


def _weeks(counts: Numbers, uses: Numbers) -> tuple[Floats, Floats]:
    x, n = np.asarray(counts, float), np.asarray(uses, float)
    if x.shape != n.shape or not (np.isfinite(x).all() and np.isfinite(n).all() and (x >= 0).all() and (n >= 0).all()):
        raise EventlensError("a use not below 0 for each count", "others", "give both for each week")
    return x, n
