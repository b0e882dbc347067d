"""Whether repeated failures of one machine come oftener or more seldom: tests of trend, and the power law.

Times are those of use (hours of running, starts, ...) at each failure since the beginning, ascending; `end` is the use
at which watching ended. Watching that ended with the last failure (`end` None) is failure-truncated, any other end is
time-truncated; the last failure of the first kind says nothing about when failures come.

`laplace` and `military` (MIL-HDBK-189, IEC 61164) ask whether the failures lie evenly. Laplace's test is best where the
rate goes as exp(b t), the other where it goes as a power of t; so they may disagree, and one is to be chosen before the
data are seen. `reverse_arrangements` asks the same of the gaps and needs no model (NIST handbook 8.2.3.4). `power_law`
fits the rate lambda beta t^(beta - 1): beta below 1 is growth of reliability, above 1 wear. Failures counted by weeks
are for `grouped`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from eventlens.errors import EventlensError
from eventlens.statistics.arrays import Floats, Numbers
from eventlens.statistics.growth_limits import rate_limits
from eventlens.statistics.rates import LEVEL

CRITICAL: Final = ((3, 0.154), (5, 0.160), (10, 0.167), (15, 0.169), (20, 0.172), (60, 0.173))
"""Failures that are free to lie anywhere (m), and the 10 % critical value of the Cramer-von Mises check from so many on
(MIL-HDBK-189, IEC 61164: from memory; the tests hold them against simulated failures)."""
EXACT: Final = 60
"""Gaps up to which the p-value of reverse arrangements is counted out; beyond, the normal distribution is as good."""


@dataclass(frozen=True)
class Trend:
    """A test of trend: its statistic, and the two-sided p-value of failures without trend."""

    statistic: float
    p: float


@dataclass(frozen=True)
class PowerLaw:
    """A power law of failures: expected number by t is lambda t^beta."""

    beta: float
    lam: float
    """lambda, in 1/unit^beta."""
    beta_unbiased: float
    rate: float
    """At the end of watching [1/unit]."""
    rate_low: float
    rate_high: float
    """Its limits at the level that was asked for: exact (growth_limits)."""
    check: float | None
    """Cramer-von Mises statistic; None with fewer than three failures that are free to lie anywhere."""
    critical: float | None
    """Its 10 % critical value: above it the failures follow no power law."""

    @property
    def mtbf(self) -> float:
        """Mean time between failures at the end, if the rate stayed as it is then [unit]."""
        return 1 / self.rate

    @property
    def fits(self) -> bool | None:
        """Whether the check lets the power law stand; None where it was not made."""
        return None if self.check is None or self.critical is None else self.check <= self.critical


def laplace(times: Numbers, end: float | None = None) -> Trend:
    """Laplace's test: U is normal without trend; positive where failures come oftener.

    EventlensError for fewer than two failures that are free to lie anywhere, and for times that are no such times.
    """
    free, span, _ = _failures(times, end, 2)
    u = (free.mean() - span / 2) / (span / math.sqrt(12 * len(free)))
    return Trend(float(u), _two_sided(float(u)))


def military(times: Numbers, end: float | None = None) -> Trend:
    """The test of MIL-HDBK-189: 2 sum ln(T/t) is chi-squared with 2m degrees without trend; large where they get rarer.

    Exact under the power law. EventlensError as for `laplace`.
    """
    from scipy.stats import chi2  # loaded only when asked for

    free, span, _ = _failures(times, end, 2)
    statistic, degrees = 2 * float(np.log(span / free).sum()), 2 * len(free)
    tails = chi2.cdf(statistic, degrees), chi2.sf(statistic, degrees)
    return Trend(statistic, min(1.0, 2 * float(min(tails))))


def reverse_arrangements(gaps: Numbers) -> Trend:
    """Pairs of gaps of which the later one is longer: many where failures get rarer.

    Without trend each order of the gaps is as likely. For the p-value equal gaps count half; for up to EXACT gaps it is
    counted out, beyond that normal. EventlensError for fewer than two gaps.
    """
    x = np.asarray(gaps, float)
    r = len(x)
    if r < 2:
        raise EventlensError("at least two gaps between failures", str(r), "watch longer")
    later = np.sign(x[None, :] - x[:, None])[np.triu_indices(r, 1)]
    strictly = float((later > 0).sum())
    found = strictly + float((later == 0).sum()) / 2
    pairs = r * (r - 1) / 2
    if r > EXACT:
        wide = math.sqrt((2 * r + 5) * (r - 1) * r / 72)
        return Trend(strictly, _two_sided(max(abs(found - pairs / 2) - 0.5, 0.0) / wide))
    chances = np.ones(1)  # of each number of reversed pairs, one gap after another
    for k in range(2, r + 1):
        chances = np.convolve(chances, np.full(k, 1 / k))
    outer = min(math.ceil(found), math.ceil(pairs - found))  # a half counts as the less unlikely neighbour
    return Trend(strictly, min(1.0, 2 * float(chances[: outer + 1].sum())))


def power_law(times: Numbers, end: float | None = None, level: float = LEVEL) -> PowerLaw:
    """The power law by maximum likelihood, with limits of the rate at the end, two-sided at `level`.

    EventlensError as for `laplace`; failure-truncated it takes three failures.
    """
    free, span, n = _failures(times, end, 2)
    failure = end is None
    logs = float(np.log(span / free).sum())
    if logs <= 0:
        raise EventlensError("failures before the end of watching", "all at its end", "state the end")
    beta = n / logs
    unbiased = beta * (n - 2 if failure else n - 1) / n
    rate = n * beta / span
    low, high = rate_limits(n, failure_truncated=failure, level=level)
    m, check = len(free), None
    if m >= CRITICAL[0][0]:
        places = (2 * np.arange(1, m + 1) - 1) / (2 * m)
        check = float(1 / (12 * m) + (((free / span) ** unbiased - places) ** 2).sum())
    return PowerLaw(
        beta=beta,
        lam=n / span**beta,
        beta_unbiased=unbiased,
        rate=rate,
        rate_low=rate * low,
        rate_high=rate * high,
        check=check,
        critical=next((value for least, value in reversed(CRITICAL) if m >= least), None),
    )


def _failures(times: Numbers, end: float | None, least: int) -> tuple[Floats, float, int]:
    """The failures that are free to lie anywhere, the end of watching, and the number of all failures."""
    t = np.asarray(times, float)
    span = float(t[-1]) if end is None and len(t) else end
    if span is None or not (np.isfinite(t).all() and ((t > 0) & (t <= span)).all() and (np.diff(t) >= 0).all()):
        raise EventlensError(
            "times of failures above 0 and not after the end, ascending", "others", "count use from the beginning"
        )
    free = t[:-1] if end is None else t
    if len(free) < least:
        raise EventlensError(f"at least {least + (end is None)} failures", str(len(t)), "watch longer")
    return free, span, len(t)


def _two_sided(z: float) -> float:
    return math.erfc(abs(z) / math.sqrt(2))
