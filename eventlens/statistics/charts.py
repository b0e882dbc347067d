"""u chart: weekly counts over unequal use, with exact limits, and how often it alarms where nothing has changed.

The chart of ISO 7870-2 puts its limits at u +- 3 sqrt(u / n), u the mean rate and n the use of the week. That takes the
counts for normal, and below about ten a week it alarms oftener above than it says and never below. Limits here are
probability limits: a week is beyond them where so many events, or more, have a chance of at most half the false-alarm
rate (or so few, or fewer). With a known mean rate the count is Poisson. With the mean taken from the weeks themselves
it is, given the N events of all weeks, binomial with N and the week's share of the use: no estimate enters, and the
rate of false alarms never exceeds the nominal one, however few events there are.

Counts that come in bursts are divided by their spread, as in `two_rates`. A second rule looks for a run of weeks on one
side of the mean; its length follows from the false-alarm rate of the whole chart (see `run_length`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from eventlens.errors import EventlensError
from eventlens.statistics.arrays import Floats, Numbers

FALSE_ALARM: Final = 0.0027
"""Of each week, both sides together: that of three standard deviations of a normal distribution (ISO 7870-2)."""
RUN_FALSE_ALARM: Final = 0.01
"""Of the whole chart for the rule of runs: common practice, no source."""
LITTLE: Final = 0.2
"""Weeks with less than this share of the median use are marked (common practice, no source)."""


@dataclass(frozen=True)
class Chart:
    """A u chart; arrays have one value a week. Rates are in 1/unit of the use; nan where a week has no use."""

    centre: float
    """Mean rate of all weeks, or the one that was given."""
    rates: Floats
    low: Floats
    """Lowest and highest rate that are no alarm."""
    high: Floats
    p: Floats
    """Twice the smaller tail of the week's count, at most 1; 1 without use."""
    beyond: NDArray[np.int8]
    """1: above the limits, -1: below, 0: between."""
    little: NDArray[np.bool_]
    """Weeks with so little use that they could show next to nothing."""
    run: tuple[int, int] | None
    """First and last week of the longest run on one side that is an alarm."""
    run_length: int | None
    """Weeks in a row that make an alarm; None: the chart is too short for this rule."""
    false_alarm: float
    """Nominal rate of false alarms of each week."""


def shewhart(centre: float, uses: Numbers) -> tuple[Floats, Floats]:
    """The limits of ISO 7870-2, u -+ 3 sqrt(u/n), the lower one cut at 0: for a chart of large counts."""
    half = 3 * np.sqrt(centre / np.asarray(uses, float))
    return np.maximum(centre - half, 0.0), centre + half


def u_chart(
    counts: Numbers,
    uses: Numbers,
    *,
    centre: float | None = None,
    false_alarm: float = FALSE_ALARM,
    run_false_alarm: float = RUN_FALSE_ALARM,
    spread: float = 1.0,
) -> Chart:
    """The chart of weekly counts over uses (0 or more, one unit); centre: a known mean rate [1/unit], else the weeks'.

    spread: variance of the counts over their mean (`bursts.spread`). Weeks without use may hold no events.
    EventlensError for anything else.
    """
    x, n = np.asarray(counts, float), np.asarray(uses, float)
    _check(x, n, false_alarm, spread)
    used = n > 0
    mean = centre if centre is not None else (float(x.sum() / n.sum()) if used.any() else 0.0)
    at_least, at_most = _tails(n, float(x.sum()), mean if centre is not None else None, spread)
    p = np.where(used, np.minimum(1.0, 2 * np.minimum(at_least(x), at_most(x))), 1.0)
    usual = np.floor(mean * n)
    far = x.sum() if centre is None else usual + np.ceil(20 * np.sqrt(usual * spread) + 80 * spread)
    most = _last(lambda k: at_least(k) > false_alarm / 2, usual, far)
    fewest = usual - _last(lambda k: at_most(usual - k) > false_alarm / 2, np.zeros_like(n), usual)
    with np.errstate(divide="ignore", invalid="ignore"):
        rates, low, high = (np.where(used, part / n, np.nan) for part in (x, fewest, most))
    beyond = np.where(used & (x > most), 1, np.where(used & (x < fewest), -1, 0)).astype(np.int8)
    length = run_length(mean * n[used] / spread, run_false_alarm)
    return Chart(
        centre=mean,
        rates=rates,
        low=low,
        high=high,
        p=p,
        beyond=beyond,
        little=n < LITTLE * (float(np.median(n[used])) if used.any() else 0.0),
        run=_run(x, mean * n, used, length),
        run_length=length,
        false_alarm=false_alarm,
    )


def run_length(expected: Floats, false_alarm: float = RUN_FALSE_ALARM) -> int | None:
    """The fewest weeks in a row on one side of their expected counts that make an alarm; None: not with so few weeks.

    Where the weeks are Poisson with these means, a chart of them holds such a run with a chance of at most
    `false_alarm`. A week on its mean ends a run. The chance is summed over the weeks exactly; that the mean is an
    estimate makes runs rather rarer, since the weeks then balance each other.
    """
    from scipy.special import gammainc, gammaincc  # loaded only when asked for

    up = gammainc(np.floor(expected) + 1, expected)
    down = np.where(expected > 0, gammaincc(np.maximum(np.ceil(expected), 1), expected), 0.0)
    weeks = len(expected)
    if weeks < 2 or _chance_of_run(up, down, weeks) > false_alarm:
        return None
    short, long = 1, weeks  # the longer, the rarer
    while long - short > 1:
        middle = (short + long) // 2
        rare = _chance_of_run(up, down, middle) <= false_alarm
        short, long = (short, middle) if rare else (middle, long)
    return long


def _chance_of_run(up: Floats, down: Floats, length: int) -> float:
    """The chance of `length` (2 or more) weeks in a row on one side; up, down: chances of the sides in each week.

    A first run ends in a week where the `length` weeks up to it lie on one side, the one before them did not, and no
    run ended before: so three numbers for each week are enough, chances without a run so far.
    """
    tops, bottoms = (
        np.lib.stride_tricks.sliding_window_view(side, length).prod(axis=1).tolist() for side in (up, down)
    )
    whole, above, below = [1.0], [0.0], [0.0]  # after each week: at all, with the week above, with it below
    hit = 0.0
    for week, (a, b) in enumerate(zip(up.tolist(), down.tolist(), strict=True)):
        since = week + 1 - length
        ends_up = tops[since] * (whole[since] - above[since]) if since >= 0 else 0.0
        ends_down = bottoms[since] * (whole[since] - below[since]) if since >= 0 else 0.0
        hit += ends_up + ends_down
        above.append(a * whole[week] - ends_up)
        below.append(b * whole[week] - ends_down)
        whole.append(whole[week] - ends_up - ends_down)
    return hit


def _run(x: Floats, mean: Floats, used: NDArray[np.bool_], length: int | None) -> tuple[int, int] | None:
    """The longest run on one side, if it is long enough; weeks without use neither end nor lengthen it."""
    weeks = np.flatnonzero(used)
    sides = np.sign(x - mean)[weeks]
    if length is None:
        return None
    borders = np.flatnonzero(np.diff(sides)) + 1
    begins, ends = np.append(0, borders), np.append(borders, len(sides))
    lengths = np.where(sides[begins] != 0, ends - begins, 0)
    longest = int(lengths.argmax())
    return (int(weeks[begins[longest]]), int(weeks[ends[longest] - 1])) if lengths[longest] >= length else None


def _tails(
    n: Floats, whole: float, centre: float | None, spread: float
) -> tuple[Callable[[Any], Any], Callable[[Any], Any]]:
    """The chance of k events or more in each week, and of k or fewer."""
    from scipy.special import betainc, gammainc, gammaincc

    if centre is not None:
        mean = np.asarray(centre) * n / spread
        return (
            lambda k: np.where(k > 0, gammainc(np.maximum(k, 1e-9) / spread, mean), 1.0),
            lambda k: np.where(k >= 0, gammaincc(np.maximum(k, 0) / spread + 1, mean), 0.0),
        )
    share = n / n.sum() if n.sum() > 0 else n

    def at_least(k: Any) -> Any:
        some = np.clip(k, 1e-9, max(whole, 1e-9))
        tail = betainc(some / spread, (whole - some) / spread + 1, share)
        return np.where(k > 0, np.where(k <= whole, tail, 0.0), 1.0)

    def at_most(k: Any) -> Any:
        some = np.clip(k, 0, max(whole - 1e-9, 0.0))
        tail = betainc(np.maximum(whole - some, 1e-9) / spread, some / spread + 1, 1 - share)
        return np.where(k < 0, 0.0, np.where(k < whole, tail, 1.0))

    return at_least, at_most


def _last(holds: Callable[[Any], Any], least: Floats, furthest: Any) -> Floats:
    """For each week the last whole number from `least` on at which `holds` is true; it is true there, then false."""
    low, high = least.copy(), np.maximum(least, furthest) + 1
    while True:  # high: not known to hold
        middle = np.floor((low + high) / 2)
        if not (middle > low).any():
            return low
        true = holds(middle)
        low, high = np.where(true & (middle > low), middle, low), np.where(true, high, np.maximum(middle, low + 1))


def _check(x: Floats, n: Floats, false_alarm: float, spread: float) -> None:
    if x.shape != n.shape or x.ndim != 1:
        raise EventlensError("a use for each count", f"{x.shape} and {n.shape}", "give both for each week")
    if not (np.isfinite(x).all() and (x >= 0).all() and np.isfinite(n).all() and (n >= 0).all()):
        raise EventlensError("counts and uses not below 0", "others", "leave weeks out of which nothing is known")
    if (x[n == 0] > 0).any():
        raise EventlensError("no events in weeks without use", "some", "count them against a use that they had")
    if not 0 < false_alarm < 1:
        raise EventlensError("a rate of false alarms between 0 and 1", str(false_alarm), "give one such as 0.0027")
    if not 1 <= spread < math.inf:
        raise EventlensError("a spread of 1 or more", str(spread), "leave it out where events are independent")
