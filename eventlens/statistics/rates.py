"""Counts and rates with exact Poisson limits.

Limits are those of Garwood (Biometrika 28, 1936): the central interval of the count's mean. The lower limit is the
mean that gives at least `count` with probability (1 - level)/2, the upper one the mean that gives at most `count`
with the same probability. They hold for any count, also for 0, where a normal approximation says nothing.
The coverage is never below the level, and above it for small counts: that is the price of being exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import polars as pl

from eventlens.errors import EventlensError

LEVEL = 0.95
"""Two-sided confidence of published limits: common practice."""


@dataclass(frozen=True)
class Rate:
    """A count per unit of exposure, with its exact limits; all three in 1/unit."""

    value: float
    low: float
    high: float


def poisson_limits(count: int, level: float = LEVEL) -> tuple[float, float]:
    """Lower and upper limit of the mean of which `count` events were seen, two-sided.

    EventlensError for a count below 0 or a level outside (0, 1).
    """
    low, high = poisson_limits_many(pl.Series([count], dtype=pl.Int64), level)
    return float(low[0]), float(high[0])


def poisson_limits_many(counts: pl.Series, level: float = LEVEL) -> tuple[pl.Series, pl.Series]:
    """`poisson_limits` for a whole column of integers: Float64 series `low` and `high`; null where the count is null.

    EventlensError as for one count, and for a column that does not hold integers.
    """
    _check_level(level)
    if not counts.dtype.is_integer():
        raise EventlensError("whole numbers of events", f"{counts.dtype}", "give counts, not rates")
    least = counts.min()
    if isinstance(least, int) and least < 0:
        raise EventlensError("counts not below 0", str(least), "correct the count")
    low, high = _garwood(counts.cast(pl.Float64).to_numpy(), (1 - level) / 2)
    known = counts.is_not_null()
    return tuple(  # type: ignore[return-value]
        pl.select(pl.when(known).then(pl.Series(limit)).alias(name)).to_series()
        for name, limit in (("low", low), ("high", high))
    )


def rate(count: int, exposure: float, level: float = LEVEL) -> Rate | None:
    """The rate of `count` events over `exposure` (hours, runs, ...) with its exact limits; None where exposure is 0.

    EventlensError for an exposure that is negative or no number, and as for `poisson_limits`.
    """
    if not math.isfinite(exposure) or exposure < 0:
        raise EventlensError("an exposure not below 0", str(exposure), "give the observed time or number of tries")
    low, high = poisson_limits(count, level)
    if exposure == 0:
        return None
    return Rate(count / exposure, low / exposure, high / exposure)


def _garwood(counts: Any, tail: float) -> tuple[Any, Any]:
    """Both limits for a numpy array of counts; quantiles of the gamma distribution, half those of chi-squared."""
    # scipy is imported here because nothing else needs it when the package starts
    from scipy.special import gammainccinv, gammaincinv

    # shape 0 has no distribution, so a count of 0 is moved aside; its lower limit is 0 by definition
    low = (counts > 0) * gammaincinv(counts + (counts == 0), tail)
    return low, gammainccinv(counts + 1, tail)


def _check_level(level: float) -> None:
    if not 0 < level < 1:
        raise EventlensError("a confidence level between 0 and 1", str(level), "give a share such as 0.95")
