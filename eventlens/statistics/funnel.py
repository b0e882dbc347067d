"""Machines side by side: funnel limits, rates pulled towards those of the sisters, and ranks only where they separate.

A league table of rates puts the machines with little use first and last. A funnel plot shows each rate over its use,
between limits that open towards little use (Spiegelhalter, Statistics in Medicine 24, 2005). The limits are exact
Poisson, interpolated between counts as there, so that the curve is smooth. Machines differ more than chance alone
lets them (load, place, people): where the spread of their deviations shows that (winsorised, so that a few bad machines
do not hide themselves), the limits open by its root.

Rates are shrunk by the gamma-Poisson model: true rates of sisters are gamma distributed, its shape and rate fitted by
maximum likelihood to all counts, and the rate of each machine is its posterior mean, with equal-tailed limits. So one
event in a short log moves a machine little. The limits take the fitted distribution for known, which makes them rather
too narrow with few sisters (Morris, J. Am. Stat. Assoc. 78, 1983).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from eventlens.errors import EventlensError
from eventlens.statistics.arrays import Floats, Numbers
from eventlens.statistics.rates import LEVEL

LEVELS: Final = (0.95, 0.998)
"""Of the inner and the outer limits: about two and three standard deviations (Spiegelhalter 2005)."""
WINSORISED: Final = 0.1
"""Share of the deviations at each end that is pulled in before their spread is taken (Spiegelhalter 2005)."""
EVEN: Final = 1e6
"""Shape of the gamma distribution above which the sisters count as alike (no source: a spread of 0.1 %)."""


@dataclass(frozen=True)
class Funnel:
    """A funnel plot's numbers; arrays have one value a machine, rates are in 1/unit of the use."""

    centre: float
    """Rate of all machines together."""
    rates: Floats
    spread: float
    """By what the variance of machines exceeds that of chance, 1 or more; limits are opened by its root."""
    beyond: NDArray[np.int8]
    """For each machine how many of LEVELS it lies beyond: above positive, below negative."""


@dataclass(frozen=True)
class Shrunk:
    """Rates pulled towards those of the sisters, with their limits [1/unit]."""

    rates: Floats
    low: Floats
    high: Floats
    shape: float
    """Of the gamma distribution of the sisters' rates; inf: they are alike."""


def funnel(counts: Numbers, uses: Numbers) -> Funnel:
    """The funnel of counts over uses (above 0, one unit), one for each machine. EventlensError for anything else."""
    x, n = _sides(counts, uses)
    centre = float(x.sum() / n.sum())
    spread = _spread(x, n, centre)
    beyond = np.zeros(len(x), np.int8)
    for level in LEVELS:
        low, high = funnel_limits(centre, n, level, spread)
        beyond += (x / n > high).astype(np.int8) - (x / n < low).astype(np.int8)
    return Funnel(centre, x / n, spread, beyond)


def funnel_limits(centre: float, uses: Numbers, level: float, spread: float = 1.0) -> tuple[Floats, Floats]:
    """Lower and upper limit of the rate at each use, two-sided at `level`, opened by the root of the spread.

    For the curve of a plot too. 0 below where no count is low enough.
    """
    n = np.asarray(uses, float)
    low, high = (_interpolated(centre * n, tail) / n for tail in ((1 - level) / 2, (1 + level) / 2))
    return np.maximum(centre - (centre - low) * math.sqrt(spread), 0.0), centre + (high - centre) * math.sqrt(spread)


def _interpolated(mean: Floats, share: float) -> Floats:
    """The quantile r - (F(r) - share)/(F(r) - F(r - 1)) of the Poisson distribution, r the least count with F(r) >=
    share; 0 where that is negative."""
    from scipy.special import pdtr  # loaded only when asked for
    from scipy.stats import poisson

    r = poisson.ppf(share, mean)
    here, before = pdtr(r, mean), np.where(r > 0, pdtr(np.maximum(r - 1, 0), mean), 0.0)
    part = np.where(here > before, (here - share) / np.maximum(here - before, 1e-300), 0.0)
    return np.asarray(np.maximum(r - part, 0.0))


def _spread(x: Floats, n: Floats, centre: float) -> float:
    """Mean square of the winsorised deviations on the scale of roots, 1 where it could be chance."""
    if len(x) < 3 or not centre:
        return 1.0
    z = np.sort(2 * (np.sqrt(x) - np.sqrt(centre * n)))
    pulled = np.clip(z, *np.quantile(z, (WINSORISED, 1 - WINSORISED)))
    found = float((pulled**2).mean())
    return found if found > 1 + 2 * math.sqrt(2 / len(x)) else 1.0  # Spiegelhalter 2005: two standard deviations


def shrink(counts: Numbers, uses: Numbers, level: float = LEVEL) -> Shrunk | None:
    """The rates of sisters pulled towards each other; None for fewer than two of them or without any event.

    counts: divided by their spread where they come in bursts, and the uses too. level: two-sided, in (0, 1).
    """
    from scipy.special import gammaincinv  # loaded only when asked for

    x, n = _sides(counts, uses)
    if len(x) < 2 or not x.sum():
        return None
    shape, mean = _fit(x, n)
    pull = shape / mean if shape < EVEN else math.inf
    if not math.isfinite(pull):  # alike: what is known of one is what is known of all
        one = gammaincinv(x.sum() + 0.5, np.array([(1 - level) / 2, (1 + level) / 2])) / n.sum()
        whole = np.ones(len(x))
        return Shrunk(mean * whole, one[0] * whole, one[1] * whole, math.inf)
    a, b = shape + x, pull + n
    low, high = (gammaincinv(a, tail) / b for tail in ((1 - level) / 2, (1 + level) / 2))
    return Shrunk(a / b, low, high, shape)


def _fit(x: Floats, n: Floats) -> tuple[float, float]:
    """Shape and mean of the gamma distribution by maximum likelihood of the negative binomial counts."""
    from scipy.optimize import minimize
    from scipy.special import gammaln

    start = float(x.sum() / n.sum())

    def cost(logged: Floats) -> float:
        shape, mean = math.exp(logged[0]), math.exp(logged[1])
        use = mean * n / shape
        terms = gammaln(shape + x) - gammaln(shape) + x * np.log(use) - (shape + x) * np.log1p(use)
        return -float(terms.sum())

    bounds = ((math.log(0.05), math.log(10 * EVEN)), (math.log(start) - 5, math.log(start) + 5))
    starts = [np.array([math.log(shape), math.log(start)]) for shape in (0.5, 5.0, 100.0)]
    found = min((minimize(cost, one, method="L-BFGS-B", bounds=bounds) for one in starts), key=lambda fit: fit.fun)
    alike = cost(np.array([math.log(10 * EVEN), math.log(start)]))
    if alike <= found.fun + 1e-6:
        return 10 * EVEN, start
    return math.exp(found.x[0]), math.exp(found.x[1])


def ranks(low: Numbers, high: Numbers) -> list[tuple[int, int]]:
    """For each machine the best and the worst rank (1: the highest rate) that its limits leave open.

    Only those whose limits lie wholly above count before it, and only those wholly below behind it.
    """
    lows, highs = np.asarray(low, float), np.asarray(high, float)
    above = (lows[None, :] > highs[:, None]).sum(axis=1)
    below = (highs[None, :] < lows[:, None]).sum(axis=1)
    return [(int(a) + 1, len(lows) - int(b)) for a, b in zip(above, below, strict=True)]


def _sides(counts: Numbers, uses: Numbers) -> tuple[Floats, Floats]:
    x, n = np.asarray(counts, float), np.asarray(uses, float)
    good = x.shape == n.shape and np.isfinite(x).all() and np.isfinite(n).all() and (x >= 0).all() and (n > 0).all()
    if not (good and len(x)):
        raise EventlensError("a use above 0 for each count", "others", "leave out machines without use")
    return x, n
