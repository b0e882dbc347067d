"""Limits of the failure rate at the end of watching under the power law, exact for any number of failures.

With n failures by T, s = sum ln(T/t), beta^ = n/s and rate^ = n beta^/T:

Failure-truncated (T is the n-th failure): lambda T^beta is gamma distributed with shape n, and beta s, of the failures
before, with shape n - 1, one independent of the other. So rate/rate^ = (beta s)(lambda T^beta)/n^2 is a product of the
two over n^2, whatever the rate: its quantiles are the limits.

Time-truncated: the likelihood of n and s is (beta lambda T^beta)^n s^(n-1) / (n! (n-1)!) times a factor without n.
Given s the chance of n is therefore proportional to x^n / (n! (n-1)!), x = s T rate, for n = 1, 2, ...; the limits are
those x at which so many failures or more, or so few or fewer, have half the chance that is left over. As for every
discrete count they hold at least at the level.

These are the limits that Crow tabulated (MIL-HDBK-189, tables for the multipliers of the mean time between failures).
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np

from eventlens.errors import EventlensError
from eventlens.statistics.rates import LEVEL

_NODES = 400
"""Points of the quadrature: six digits of the tabulated multipliers need fewer than a hundred."""


@lru_cache(maxsize=4096)
def rate_limits(n: int, *, failure_truncated: bool, level: float = LEVEL) -> tuple[float, float]:
    """What the estimated rate is to be multiplied by for its lower and upper limit, two-sided at `level` in (0, 1).

    n: failures, at least 2. EventlensError for anything else.
    """
    if not 0 < level < 1:
        raise EventlensError("a confidence level between 0 and 1", str(level), "give a share such as 0.95")
    if n < 2:
        raise EventlensError("at least two failures", str(n), "watch longer")
    tail = (1 - level) / 2
    return _failure_truncated(n, tail) if failure_truncated else _time_truncated(n, tail)


def _failure_truncated(n: int, tail: float) -> tuple[float, float]:
    from scipy.special import gammainc, gammaincinv, roots_legendre  # loaded only when asked for

    nodes, weights = roots_legendre(_NODES)
    shape = gammaincinv(n - 1, (nodes + 1) / 2)

    def below(logged: float) -> float:
        return float((weights / 2 * gammainc(n, math.exp(logged) / shape)).sum())

    low, high = (math.exp(_root(lambda x, share=share: below(x) - share, n)) for share in (tail, 1 - tail))
    return low / n**2, high / n**2


def _time_truncated(n: int, tail: float) -> tuple[float, float]:
    from scipy.special import gammaln, logsumexp

    ks = np.arange(1, 40 * n + 400)
    weights = -gammaln(ks + 1) - gammaln(ks)

    def chance(logged: float, picked: Any) -> float:
        terms = ks * logged + weights
        return float(np.exp(logsumexp(terms[picked]) - logsumexp(terms)))

    low = math.exp(_root(lambda x: chance(x, ks >= n) - tail, n)) if n > 1 else 0.0
    high = math.exp(_root(lambda x: tail - chance(x, ks <= n), n))
    return low / n**2, high / n**2


def _root(rises: Any, n: int) -> float:
    """Where a rising function of ln x is 0; x lies around n^2."""
    from scipy.optimize import brentq

    middle = 2 * math.log(n)
    return float(brentq(rises, middle - 25, middle + 6, xtol=1e-12))
