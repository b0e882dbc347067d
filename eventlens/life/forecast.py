"""When something will be used up at the present rate, as an interval: a log is a sample of the machine's life.

The rate is the use of the observed days over those days. Its interval comes from drawing days anew (working days and
others apart, since each week holds as many of both) and from Student's t, because a week's days are few. Where the log
is long enough whole weeks are drawn instead: days of one week are alike (a busy week has busy days), and drawn one by
one they would promise too much.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

DRAWS: Final = 2000
LEVEL: Final = 0.95
LEAST_DAYS: Final = 3
"""Working days below which no interval is given (common practice, no source)."""
LEAST_WEEKS: Final = 8
"""Whole weeks from which on weeks are drawn, not days: of fewer the spread is too uncertain (common practice, no
source)."""
FARTHEST_DAYS: Final = 365.25 * 200
"""A date further off says nothing."""

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Rate:
    """Use per calendar day with its interval; None where too few days were seen."""

    per_day: float
    low: float | None
    high: float | None
    days: float
    """Days of log that it rests on."""
    note: str
    """What the extrapolation takes for granted."""
    drawn: str | None = None
    """What was drawn anew for the interval, 'days' or 'weeks'; None where there is no interval."""


@dataclass(frozen=True)
class Forecast:
    """When it will be used up; None: not within two hundred years."""

    at: datetime | None
    earliest: datetime | None
    latest: datetime | None
    rate: Rate


def daily_use(days: pl.DataFrame, *, seed: int = 0) -> Rate | None:
    """The rate from days: (weekday 1 to 7, use, observed: share of the day that was observed, 0 to 1), in their order.

    seed: of the drawing. None where nothing was observed.
    """
    known = days.with_columns(week=_weeks(days)).filter(pl.col("observed") > 0)
    if known.is_empty():
        return None
    rest = known["weekday"].to_numpy() >= 6
    use, observed = known["use"].to_numpy().astype(float), known["observed"].to_numpy().astype(float)
    groups = [(use[pick], observed[pick]) for pick in (~rest, rest) if pick.any()]
    whole = float(observed.sum())
    if len(groups) > 1:
        weights: tuple[float, ...] = (5 / 7, 2 / 7)
        note = "weeks like those of the log, five working days and two others"
    else:
        weights = (1.0,)
        note = "every day like those of the log, which holds " + ("only weekends" if rest.any() else "no weekend")
    per_day = sum(weight * _ratio(*group) for group, weight in zip(groups, weights, strict=True))
    by_week, rng = whole_weeks(known) >= LEAST_WEEKS, np.random.default_rng(seed)
    spread, freedom = _spread_of_weeks(known, rest, rng) if by_week else _spread(groups, weights, rng)
    if per_day <= 0 or freedom < LEAST_DAYS - 1:
        return Rate(per_day, None, None, whole, note)
    from scipy import special  # loaded only when asked for

    wide = float(special.stdtrit(freedom, (1 + LEVEL) / 2)) * spread / per_day
    return Rate(
        per_day,
        per_day * float(np.exp(-wide)),
        per_day * float(np.exp(wide)),
        whole,
        note,
        "weeks" if by_week else "days",
    )


def forecast(remaining: float, rate: Rate | None, now: datetime) -> Forecast | None:
    """When `remaining` (in the unit of the rate) will be used up, counted from now; None without a rate."""
    if rate is None:
        return None

    def day(per_day: float | None) -> datetime | None:
        if remaining <= 0:
            return now
        if not per_day or remaining / per_day > FARTHEST_DAYS:
            return None
        return now + timedelta(days=remaining / per_day)

    return Forecast(day(rate.per_day), day(rate.high), day(rate.low), rate)


def _weeks(days: pl.DataFrame) -> pl.Expr:
    """The number of each day's week; a week begins where the weekday does not go on."""
    return (pl.col("weekday") <= pl.col("weekday").shift(1)).fill_null(value=False).cum_sum()


def whole_weeks(known: pl.DataFrame) -> int:
    """How many weeks were observed from end to end (99 % of each day): (week, observed) of the observed days."""
    whole = known.filter(pl.col("observed") >= 0.99).group_by("week").len()
    return whole.filter(pl.col("len") == 7).height


def _ratio(use: Array, observed: Array) -> float:
    return float(use.sum() / observed.sum())


def _spread(
    groups: list[tuple[Array, Array]], weights: tuple[float, ...], rng: np.random.Generator
) -> tuple[float, int]:
    """Standard error of the rate from days drawn anew within each group, and the degrees of freedom."""
    total, freedom = np.zeros(DRAWS), 0
    for (use, observed), weight in zip(groups, weights, strict=True):
        size = len(use)
        drawn = rng.integers(0, size, (DRAWS, size))
        ratio = use[drawn].sum(axis=1) / np.maximum(observed[drawn].sum(axis=1), 1e-12)
        # drawing with replacement from n days shows too small a spread by (n - 1) / n
        grown = np.sqrt(size / (size - 1)) if size > 1 else 1.0
        total += weight * (ratio - ratio.mean()) * grown
        if use.any():
            freedom += size - 1
    return float(total.std()), freedom


def _spread_of_weeks(known: pl.DataFrame, rest: npt.NDArray[np.bool_], rng: np.random.Generator) -> tuple[float, int]:
    """The same from weeks drawn anew, each with its working days and its others; weeks seen in part count in part."""
    number = known["week"].rank("dense").to_numpy().astype(int) - 1
    size, total = int(number.max()) + 1, np.zeros(DRAWS)
    drawn = rng.integers(0, size, (DRAWS, size))
    for pick, weight in ((~rest, 5 / 7), (rest, 2 / 7)):
        use, observed = (
            np.bincount(number[pick], known[name].to_numpy().astype(float)[pick], size) for name in ("use", "observed")
        )
        total += weight * use[drawn].sum(axis=1) / np.maximum(observed[drawn].sum(axis=1), 1e-12)
    return float(total.std() * np.sqrt(size / (size - 1))), size - 1
