"""Drift of a measured time over weeks: a robust slope, and the week in which its level changed.

Slope: Theil and Sen with Sen's interval, and the p-value of Kendall's tau between week and value (Mann-Kendall), by
scipy. Change of level: the split into two stretches that leaves the least sum of squares. Its p-value is that of the
largest such gain among seeded permutations of the weeks, exact whatever their distribution; an outlying week costs
power but makes no alarm. The interval of the change holds the splits whose likelihood is not much below the best one;
how much, is taken from series that are simulated with the change that was found and the residuals that it leaves (a
likelihood-ratio set, calibrated by the bootstrap).

Twelve weeks have so few orders that no p-value of theirs is below 0.002, which many comparisons together use up,
however clear the change. Where the values are medians of many runs, with an error that is about normal, and hardly an
order of theirs shows so large a gain, the p-value is that of the F test of the split, times the number of splits that
were looked at (Bonferroni's bound); their scatter is taken as at least that of rounding to the step of the log.

Both tests take the weeks without change for exchangeable: seasons (a cold brake in winter) are a change to them. Both
answer to either kind of change, so that `drift` allows for two tests and says which of the two describes it better.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from eventlens.errors import EventlensError
from eventlens.statistics.arrays import Floats, Numbers
from eventlens.statistics.rates import LEVEL

LEAST: Final = 6
"""Values below which no drift is judged: of five, even a steady rise has p = 2/5! = 0.017, too much for two tests and
several series (common practice)."""
PART: Final = 2
"""Fewest values on either side of a change: one alone is an outlier (common practice)."""
CLEAR: Final = 0.01
"""Share of orders with so large a gain up to which the F test is asked (judgement): a few odd weeks stay above it."""
DRAWS: Final = 1999
SEED: Final = 20260302


@dataclass(frozen=True)
class Change:
    """A change of level before the value number `at` (from 0)."""

    at: int
    first: int
    """The interval: the change came before one of the values `first` to `last`."""
    last: int
    before: float
    """Median of the values before it."""
    after: float
    p: float


@dataclass(frozen=True)
class RobustSlope:
    """Slope per unit of x with Sen's interval, and its p-value (Mann-Kendall)."""

    slope: float
    low: float
    high: float
    p: float


@dataclass(frozen=True)
class Drift:
    """What a series of values does."""

    slope: float
    """Per unit of x, with its interval."""
    low: float
    high: float
    p_slope: float
    change: Change
    p: float
    """Of no drift of either kind: twice the smaller p-value, at most 1."""
    shape: str
    """'slope' or 'step': which leaves less of the values' variation. It means something only where p is small."""


def drift(x: Numbers, y: Numbers, level: float = LEVEL, *, step: float | None = None) -> Drift | None:
    """The drift of values y at ascending x (weeks); None with fewer than LEAST of them. level: two-sided, in (0, 1).

    step: to which values that are medians of many are rounded, in their unit; None: nothing is known of their error.
    """
    at, values = np.asarray(x, float), np.asarray(y, float)
    if not 0 < level < 1:
        raise EventlensError("a confidence level between 0 and 1", str(level), "give a share such as 0.95")
    if at.shape != values.shape or not (np.isfinite(values).all() and (np.diff(at) > 0).all()):
        raise EventlensError("a value for each of ascending weeks", "others", "leave out weeks without a value")
    if len(values) < LEAST:
        return None
    sen = robust_slope(at, values, level)
    found = change_point(values, level, step=step)
    assert found is not None  # there are enough values
    leaves = _left(values - sen.slope * at), _left(values[: found.at]) + _left(values[found.at :])
    return Drift(
        slope=sen.slope,
        low=sen.low,
        high=sen.high,
        p_slope=sen.p,
        change=found,
        p=min(1.0, 2 * min(sen.p, found.p)),
        shape="slope" if leaves[0] <= leaves[1] else "step",
    )


def robust_slope(x: Floats, y: Floats, level: float = LEVEL) -> RobustSlope:
    """The slope of values y at ascending x alone; of fewer than LEAST its p-value shows nothing."""
    from scipy.stats import kendalltau, theilslopes  # loaded only when asked for

    sen = theilslopes(y, x, alpha=level)
    tau = float(kendalltau(x, y).pvalue) if np.ptp(y) else 1.0
    return RobustSlope(float(sen.slope), float(sen.low_slope), float(sen.high_slope), tau)


def change_point(y: Numbers, level: float = LEVEL, *, draws: int = DRAWS, step: float | None = None) -> Change | None:
    """The most likely change of level of a series; None with fewer than 2 PART values.

    Its p-value is not below 1/(draws + 1), unless a step is given (see `drift`). The same series gives the same answer.
    """
    values = np.asarray(y, float)
    if len(values) < 2 * PART:
        return None
    gains = _gains(values[None, :])[0]
    split = int(gains.argmax())
    orders, places = _drawn(len(values), draws)
    shuffled = values[orders]
    # as large up to rounding: equal values in another order must not count as smaller
    as_large = int((_gains(shuffled).max(axis=1) >= gains[split] * (1 - 1e-9)).sum())
    by_order = (as_large + 1) / (draws + 1)
    at = split + PART
    kept = _interval(values, gains, split, level, places)
    return Change(
        at=at,
        first=int(kept[0]) + PART,
        last=int(kept[-1]) + PART,
        before=float(np.median(values[:at])),
        after=float(np.median(values[at:])),
        p=by_order if step is None or by_order > CLEAR else min(by_order, _by_size(values, gains, step)),
    )


def _by_size(values: Floats, gains: Floats, step: float) -> float:
    """The p-value of the largest gain among all splits where errors are normal and independent; see the module."""
    from scipy.stats import f  # loaded only when asked for

    free = len(values) - 2
    left = max(float(((values - values.mean()) ** 2).sum()) - float(gains.max()), free * step**2 / 12)
    return min(1.0, len(gains) * float(f.sf(float(gains.max()) * free / left, 1, free))) if left > 0 else 1.0


@lru_cache(maxsize=16)
def _drawn(values: int, draws: int) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Orders of so many values, and places among them drawn with replacement, a row each; the same for every series."""
    rng = np.random.default_rng(SEED)
    orders = rng.permuted(np.tile(np.arange(values, dtype=np.int32), (draws, 1)), axis=1)
    return orders, rng.integers(0, values, (draws, values)).astype(np.int32)


def _gains(series: Floats) -> Floats:
    """For each series (rows) and each allowed split: how much of the sum of squares two levels take away."""
    m = series.shape[1]
    sums = series - series.mean(axis=1, keepdims=True)
    k = np.arange(PART, m - PART + 1)
    np.cumsum(sums, axis=1, out=sums)  # in place: a large array made anew costs more than its arithmetic
    gains = sums[:, PART - 1 : m - PART]
    gains *= gains
    gains *= m / (k * (m - k))
    return np.asarray(gains)


def _interval(values: Floats, gains: Floats, split: int, level: float, places: NDArray[np.int32]) -> NDArray[np.int64]:
    """The splits that the values do not rule out: those whose log-likelihood lies at most so far below the best one as
    that of the true split does in `level` of the simulated series."""
    at = split + PART
    fitted = np.append(np.full(at, values[:at].mean()), np.full(len(values) - at, values[at:].mean()))
    residuals = values - fitted
    whole = float(((values - values.mean()) ** 2).sum())
    if np.abs(residuals).max() <= 1e-12 * np.abs(values).max():  # two levels and nothing else
        return np.asarray([split])
    drawn = fitted + residuals[places]
    drawn_gains = _gains(drawn)
    drawn_whole = ((drawn - drawn.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    behind = _behind(drawn_gains.max(axis=1), drawn_gains[:, split], drawn_whole, len(values))
    far = float(np.quantile(behind, level))
    mine = _behind(gains[split], gains, np.asarray(whole), len(values))
    return np.flatnonzero(mine <= far + 1e-9)


def _behind(best: Any, gain: Any, whole: Any, m: int) -> Any:
    """Twice the difference of log-likelihoods of normal residuals with unknown variance, from the gains."""
    dust = np.maximum(whole * 1e-12, np.finfo(float).tiny)
    return m * np.log(np.maximum(whole - gain, dust) / np.maximum(whole - best, dust))


def _left(values: Floats) -> float:
    """Sum of squares about the mean."""
    return float(((values - values.mean()) ** 2).sum())
