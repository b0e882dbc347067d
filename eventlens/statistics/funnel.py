"""Machines side by side: funnel limits, rates pulled towards those of the sisters, and ranks only where they separate.

A league table of rates puts the machines with little use first and last. A funnel plot shows each rate over its use,
between limits that open towards little use (Spiegelhalter, Statistics in Medicine 24, 2005). The limits are exact
Poisson, interpolated between counts as there, so that the curve is smooth. Machines differ more than chance alone
lets them (load, place, people): where the spread of their deviations shows that (winsorised, so that a few bad machines
do not hide themselves), the limits open by its root.

Rates are shrunk by the gamma-Poisson model: true rates of sisters are gamma distributed, and the rate of each machine
is its mean given all counts. So one event in a short log moves a machine little. How unlike the sisters are, and their
common mean, are not known well with few of them: the answer is averaged over both, with weights that are the likelihood
and a prior that takes every share of pulling from 0 to 1 for as likely (Christiansen and Morris, J. Am. Stat. Assoc.
92, 1997), and every logarithm of the mean.
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
_GRID, _MEANS, _ROUNDS, _STEPS = 50, 11, 40, 30
"""Shares of pulling that are averaged over, and means with each; rounds for the most likely mean; most steps for a
limit."""
_NEAR: Final = 1e-9
"""Part of the largest rate by which the last step to a limit may still move it."""


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
    pulled: Floats
    """Share of each rate that is the sisters' (0 to 1)."""


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
    x, n = _sides(counts, uses)
    if len(x) < 2 or not x.sum():
        return None
    shapes, means, weights = _laws(x, n)
    a, b = shapes + x, shapes / means + n  # of each law (rows) the gamma distribution of each rate

    rates = (weights * a / b).sum(axis=0)
    limits = [_limit((1 + side * level) / 2, rates, weights, a, b) for side in (-1, 1)]
    pulled = (weights * shapes / (shapes + means * n)).sum(axis=0)
    return Shrunk(rates, limits[0], limits[1], pulled)


def _limit(share: float, begin: Floats, weights: Floats, a: Floats, b: Floats) -> Floats:
    """The rate of each machine below which its mixture of gamma distributions has the share.

    Newton's steps on the normal quantile over the logarithm of the rate, which is nearly a straight line; a step that
    leaves the bracket is a halving instead, so that it always ends.
    """
    from scipy.special import gammainc, gammaln, ndtri  # loaded only when asked for

    known, wanted = a * np.log(b) - gammaln(a), float(ndtri(share))
    low, high = np.zeros(len(begin)), 2 * (a / b + 10 * np.sqrt(a) / b + 10 / b).max(axis=0)
    at = begin
    for _ in range(_STEPS):
        below = (weights * gammainc(a, b * at)).sum(axis=0)
        low, high = np.where(below < share, at, low), np.where(below < share, high, at)
        steep = (weights * np.exp(known + a * np.log(at) - b * at)).sum(axis=0)  # by the logarithm
        with np.errstate(all="ignore"):
            z = ndtri(below)
            new = at * np.exp((wanted - z) * np.exp(-z * z / 2) / math.sqrt(2 * math.pi) / steep)
        new = np.where((new >= low) & (new <= high), new, (low + high) / 2)
        near, at = np.abs(new - at).max() <= _NEAR * begin.max(), new
        if near:
            break
    return at


def _laws(x: Floats, n: Floats) -> tuple[Floats, Floats, Floats]:
    """Shapes and means of gamma distributions that the sisters' rates may have, and their weights, as columns.

    The shapes pull a machine of median use by equal steps from all to nothing. The means lie about the most likely one
    for the shape a, that solves sum (x - m n)/(1 + m n/a) = 0, up to three and a half standard deviations of its
    logarithm.
    """
    from scipy.special import gammaln

    centre = float(x.sum() / n.sum())
    pulls = (np.arange(_GRID) + 0.5) / _GRID
    shapes = (centre * float(np.median(n)) * pulls / (1 - pulls))[:, None]
    means = np.full_like(shapes, centre)
    for _ in range(_ROUNDS):
        part = 1 / (1 + means * n / shapes)
        means = ((x * part).sum(axis=1) / (n * part).sum(axis=1))[:, None]
    wide = 1 / np.sqrt((means * n / (1 + means * n / shapes)).sum(axis=1, keepdims=True))
    away = np.linspace(-3.5, 3.5, _MEANS)
    means = (means * np.exp(wide * away)).reshape(-1, 1)
    shapes, wide = np.repeat(shapes, _MEANS, axis=0), np.repeat(wide, _MEANS, axis=0)
    use = means * n / shapes
    terms = gammaln(shapes + x) - gammaln(shapes) + x * np.log(use) - (shapes + x) * np.log1p(use)
    logged = terms.sum(axis=1, keepdims=True) + np.log(wide)
    weights = np.exp(logged - logged.max())
    kept = weights[:, 0] > 1e-6  # the others change no figure that anybody reads
    return shapes[kept], means[kept], weights[kept] / weights[kept].sum()


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
