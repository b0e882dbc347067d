"""Bounds of a rate that hold at every look at once: for those who look every day and stop when they see something.

Limits for one look fail whoever keeps looking: sooner or later chance alone takes them over the truth. These hold for
all looks together: with probability `level` the true rate never leaves them (confidence sequence for the rate of a
Poisson process; Lindon and Kallus, arXiv 2410.09282; derived here from the likelihood).

Let N be the events in the use t of a Poisson process with rate r. Against another rate q the likelihood ratio is
(q/r)^N exp(-(q - r) t), a martingale with mean 1 while r is true. A mixture over q keeps that. With q gamma
distributed, shape a and rate b, the integral is closed:

    M(t; r) = exp(r t) r^-N b^a Gamma(a + N) / (Gamma(a) (b + t)^(a + N)).

It is never negative and starts at 1, so that by Ville's inequality it ever reaches 1/(1 - level) with probability at
most 1 - level. The rates at which it has not are the bounds. ln M is convex in r, so they are an interval; with
c = ln(1/(1 - level)) - ln of the factor without r, its ends solve r t - N ln r = c:

    r = -(N/t) W(-(t/N) exp(-c/N)),

W the two branches of Lambert's function; for N = 0 the interval is 0 to c/t. Shape and b only say where the bounds are
tightest: about the rate a/b. They must be chosen before the events are seen; the bounds hold for any choice. A true
rate below a/b costs little width (half the logarithm of what b is too small by), one far above it much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from eventlens.errors import EventlensError
from eventlens.statistics.arrays import Floats, Numbers
from eventlens.statistics.rates import LEVEL

SHAPE: Final = 0.5
"""Shape of the mixture: that of Jeffreys' prior for a Poisson rate, wide enough for any rate (common practice)."""


@dataclass(frozen=True)
class Bounds:
    """Lower and upper bound of a rate [1/unit of the use] at each look."""

    low: Floats
    high: Floats
    """inf where nothing was used yet."""


def anytime_bounds(
    counts: Numbers,
    uses: Numbers,
    likely: float,
    *,
    level: float = LEVEL,
    spread: float = 1.0,
    shape: float = SHAPE,
) -> Bounds:
    """The bounds at each look from the events so far and the use so far, both from the beginning and never falling.

    likely: a rate at the upper end of those that are likely [1/unit], above 0, chosen without looking at the events:
    the bounds are tightest about it. level: of all looks together, in (0, 1). spread: `bursts.spread`; with one above
    1 the guarantee is only as good as the spread is known. EventlensError for anything else.
    """
    from scipy.special import gammaln, lambertw  # loaded only when asked for

    n, t = np.asarray(counts, float) / spread, np.asarray(uses, float) / spread
    _check(n, t, likely, level, shape)
    b = shape / likely
    free = shape * math.log(b) + gammaln(shape + n) - gammaln(shape) - (shape + n) * np.log(b + t)
    c = -math.log(1 - level) - free
    some, used = np.maximum(n, 1e-300), np.maximum(t, 1e-300)
    # -(t/N) exp(-c/N) is in [-1/e, 0); rounding may take it past -1/e, where both branches meet
    inside = np.maximum(-np.exp(np.where(n > 0, np.log(used / some) - c / some, -1.0)), -1 / math.e)
    ends = [(-some / used * lambertw(inside, branch)).real for branch in (0, -1)]
    low = np.where((n > 0) & (t > 0), ends[0], 0.0)
    high = np.where(t > 0, np.where(n > 0, ends[1], c / used), np.inf)
    return Bounds(low, high)


def _check(n: Floats, t: Floats, likely: float, level: float, shape: float) -> None:
    if n.shape != t.shape or n.ndim != 1:
        raise EventlensError("the use at each look", f"{n.shape} and {t.shape}", "give both for each look")
    if not (np.isfinite(n).all() and np.isfinite(t).all() and (np.diff(np.append(0, n)) >= 0).all()):
        raise EventlensError("events so far at each look", "others", "sum them from the beginning")
    if not (np.diff(np.append(0, t)) >= 0).all() or (n[t == 0] > 0).any():
        raise EventlensError("use so far at each look, with events only where there is some", "another", "sum it up")
    if not (0 < likely < math.inf and 0 < shape < math.inf):
        raise EventlensError("a rate and a shape above 0", f"{likely} and {shape}", "take a rate that is likely")
    if not 0 < level < 1:
        raise EventlensError("a confidence level between 0 and 1", str(level), "give a share such as 0.95")
