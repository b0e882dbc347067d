"""Two Poisson rates, before against after: exact ratio, interval and p-value, and what such a comparison can show.

Given n events in all, those after are binomial with n and pi = r T2 / (T1 + r T2), where r is the ratio of the rates,
after over before, and T1, T2 are the exposures (Przyborowski and Wilenski, Biometrika 31, 1940). The limits of r come
from the Clopper-Pearson limits of pi (Biometrika 26, 1934) by r = pi/(1 - pi) T1/T2. The p-value is twice the smaller
tail, at most 1; so it is below 1 - level exactly where the interval leaves 1 out. Neither is a mid-p: the coverage is
never below the level, and above it for small counts.

Counts that come in bursts say less than their number. All functions take `spread`, the variance of a count over its
mean (see `bursts`): counts are divided by it, and the distributions are continued to counts that are not whole by
the incomplete beta and gamma functions. With a spread of 1 they are the exact ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from eventlens.errors import EventlensError
from eventlens.statistics.rates import LEVEL

POWER: Final = 0.8
"""Share of the comparisons in which a change should show: common practice."""


@dataclass(frozen=True)
class RateRatio:
    """The rate after over the rate before."""

    value: float | None
    """None: nothing was seen before, so that it is infinite, or nothing at all, so that it is unknown."""
    low: float
    high: float | None
    """None: without bound."""
    p: float
    """Two-sided, 0 to 1: how likely so unlike counts are where the rates are equal."""


def compare_rates(
    before: float, before_exposure: float, after: float, after_exposure: float, level: float = LEVEL, spread: float = 1
) -> RateRatio:
    """The ratio of two rates from counts (0 or more) over exposures (above 0, in one unit), with its exact interval.

    level: two-sided, in (0, 1). EventlensError for anything else.
    """
    from scipy.special import betainc, betaincinv  # loaded only when asked for

    _check(before, before_exposure, after, after_exposure, level, spread)
    x, y = before / spread, after / spread
    share, tail = after_exposure / (before_exposure + after_exposure), (1 - level) / 2
    odds = before_exposure / after_exposure
    low = float(betaincinv(y, x + 1, tail)) if y else 0.0
    high = float(betaincinv(y + 1, x, 1 - tail)) if x else 1.0
    at_most = float(betainc(x, y + 1, 1 - share)) if x else 1.0
    at_least = float(betainc(y, x + 1, share)) if y else 1.0
    return RateRatio(
        value=(after / after_exposure) / (before / before_exposure) if before else None,
        low=low / (1 - low) * odds,
        high=high / (1 - high) * odds if high < 1 else None,
        p=min(1.0, 2 * min(at_most, at_least)),
    )


def lower_rate(count: float, exposure: float, level: float = LEVEL, spread: float = 1) -> float:
    """The lower limit of a rate [1/unit of the exposure], two-sided at `level` (Garwood 1936); 0 for a count of 0."""
    from scipy.special import gammaincinv

    _check(count, exposure, 0, 1, level, spread)
    return spread * float(gammaincinv(count / spread, (1 - level) / 2)) / exposure if count else 0.0


def silence(count: float, exposure: float, level: float = LEVEL, spread: float = 1) -> float | None:
    """The exposure without any event after which the fault has gone: -ln(1 - level) over the rate's lower limit.

    A fault that went on at this rate would have shown in it with probability `level`; the lower limit is taken to be
    careful (common practice). Bursts are counted as such. None where nothing was seen before.
    """
    rate = lower_rate(count, exposure, level, spread) / spread
    return -math.log(1 - level) / rate if rate > 0 else None


def silence_for_p(count: float, exposure: float, p: float, spread: float = 1) -> float | None:
    """The exposure without any event at which `compare_rates` comes down to a p-value of `p`, in (0, 1).

    From 2 (T1 / (T1 + T2))^count = p. None where nothing was seen before.
    """
    _check(count, exposure, 0, 1, p, spread)
    if not count:
        return None
    grown = math.log(2 / p) * spread / count
    return exposure * math.expm1(grown) if grown < 700 else None  # beyond, no number holds it


def smallest_change(
    before: float,
    before_exposure: float,
    after_exposure: float,
    level: float = LEVEL,
    spread: float = 1,
    power: float = POWER,
) -> float | None:
    """The ratio of rates, below 1, down to which a fall must go to be shown with probability `power`.

    That is, given what was seen before: the largest r at which a count after, Poisson with mean r times the rate
    before, stays with that probability so low that the two-sided p-value is not above 1 - level. None where even
    silence would not show anything: the comparison cannot see an improvement at all.
    """
    from scipy.special import gammainccinv

    _check(before, before_exposure, 0, after_exposure, level, spread)
    expected = before * after_exposure / before_exposure / spread

    def shows(count: int) -> bool:
        found = compare_rates(before / spread, before_exposure, count, after_exposure, level)
        return count < expected and found.p <= 1 - level

    if not before or not shows(0):
        return None
    least, most = 0, math.ceil(expected)  # the largest count that shows is found between them: p grows with the count
    while most - least > 1:
        middle = (least + most) // 2
        least, most = (middle, most) if shows(middle) else (least, middle)
    return float(gammainccinv(least + 1, power)) / expected


def smallest_rise(
    before: float,
    before_exposure: float,
    after_exposure: float,
    level: float = LEVEL,
    spread: float = 1,
    power: float = POWER,
) -> float | None:
    """The ratio of rates, above 1, from which on a rise is shown with probability `power`; None with none before.

    The smallest r at which a count after, Poisson with mean r times the rate before, is with that probability so high
    that the two-sided p-value is not above 1 - level.
    """
    from scipy.special import gammaincinv

    _check(before, before_exposure, 0, after_exposure, level, spread)
    if not before:
        return None
    expected = before * after_exposure / before_exposure / spread

    def shows(count: int) -> bool:
        found = compare_rates(before / spread, before_exposure, count, after_exposure, level)
        return count > expected and found.p <= 1 - level

    least, most = math.floor(expected), 2 * math.ceil(expected) + 8
    while not shows(most):
        least, most = most, 2 * most
    while most - least > 1:
        middle = (least + most) // 2
        least, most = (least, middle) if shows(middle) else (middle, most)
    return float(gammaincinv(most, power)) / expected


def _check(
    before: float, before_exposure: float, after: float, after_exposure: float, level: float, spread: float
) -> None:
    if not (0 <= before < math.inf and 0 <= after < math.inf):
        raise EventlensError("counts not below 0", f"{before} and {after}", "correct the counts")
    if not (0 < before_exposure < math.inf and 0 < after_exposure < math.inf):
        raise EventlensError(
            "exposures above 0", f"{before_exposure} and {after_exposure}", "compare only where there was use"
        )
    if not 0 < level < 1:
        raise EventlensError("a confidence level between 0 and 1", str(level), "give a share such as 0.95")
    if not 1 <= spread < math.inf:
        raise EventlensError("a spread of 1 or more", str(spread), "leave it out where events are independent")
