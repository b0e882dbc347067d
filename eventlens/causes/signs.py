"""A sign: what the log says for or against one piece of evidence, as odds, and the small tests that give them.

A piece of evidence either holds or does not ("the losses are in one direction"). A log never shows that directly; it
shows counts and times. A sign therefore carries a Bayes factor: how much likelier these data are if the evidence holds
than if it does not. 1 says nothing; what cannot be known is no sign at all. Source of the method: Kass and Raftery,
Bayes factors, Journal of the American Statistical Association 90 (1995), from memory; the assumed sizes of effects are
judgement, named where they are used.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import polars as pl

CAP: Final = 100.0
"""No sign of one log multiplies odds by more than this, or divides them (judgement): the models are rough."""
ABSENT: Final = 0.3
"""Bayes factor of something that would show if it were there and does not (judgement): parts fail in more than one way,
so that one sign of several may well be missing."""
PRESENT: Final = CAP
"""Bayes factor of something that is plainly there."""
PLAINLY: Final = 10.0
"""From this Bayes factor on something was plainly seen (judgement)."""
RATIOS: Final = (2.5, 4.0, 8.0, 16.0)
"""So many times more often, all equally likely, if something matters at all (judgement)."""

MATTERS: Final = 0.3
"""... and then it brings about this share of all at least (judgement): a rare thing that explains one of a thousand is
no evidence."""
COINCIDENCE: Final = 4.0
"""Each hit multiplies odds by no more than this, however rare the part is (judgement): exposures are rough."""


@dataclass(frozen=True)
class Sign:
    """What a log says of one piece of evidence."""

    key: str
    """The evidence (knowledge/evidence.toml)."""
    factor: float
    """Bayes factor, above 1: it holds; below 1: it does not."""
    text: str
    """What was seen, with its numbers."""
    rows: tuple[int, ...] = ()
    """Lines of the log behind it, all of them, ascending; none where it rests on the log as a whole."""
    p: float | None = field(default=None, compare=False)
    """Of the small test behind it: how often chance alone gives as much, where such a test was made."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "factor", float(min(max(self.factor, 1 / CAP), CAP)))


def share_factor(hits: int, tries: int, usual: float, holds: float) -> float:
    """Bayes factor for `a share of about holds` against `as usual`, when hits of tries show it.

    usual, holds: shares, 0 to 1, kept off both ends so that a single contrary case decides nothing.
    """
    usual, holds = (min(max(share, 0.02), 0.98) for share in (usual, holds))
    log = hits * math.log(holds / usual) + (tries - hits) * math.log((1 - holds) / (1 - usual))
    return math.exp(min(max(log, -math.log(CAP)), math.log(CAP)))


def excess_factor(hits: int, tries: int, exposure: float, among: int = 1) -> float:
    """Bayes factor for `more often in this part of the use` against `in proportion`, when hits of tries lie in it.

    exposure: the part's share of the use (runs, running time, ...), 0 to 1; among: of so many parts it is the one with
    the most hits, so that its excess is worth less.
    """
    if tries == 0 or not 0.0 < exposure < 1.0:
        return 1.0
    plain, mattering = (_mean_ratio(hits, tries, exposure, least) for least in (0.0, MATTERS))
    factor = plain if plain < 1 else max(min(plain, mattering, COINCIDENCE ** min(hits, 20)), ABSENT)
    return factor / among


def _mean_ratio(hits: int, tries: int, exposure: float, least: float) -> float:
    """Mean of the likelihood ratios for RATIOS times the odds of the exposure; the share is `least` at the least."""
    odds = exposure / (1 - exposure)
    logs = []
    for ratio in RATIOS:
        share = max(ratio * odds / (1 + ratio * odds), min(least, (1 + exposure) / 2))
        logs.append(hits * math.log(share / exposure) + (tries - hits) * math.log((1 - share) / (1 - exposure)))
    return sum(math.exp(min(log, 50.0)) for log in logs) / len(RATIOS)


def tail(hits: int, tries: int, exposure: float) -> float:
    """How often chance alone puts hits or more of tries into a part with this share of the use (exact binomial)."""
    from scipy.special import betainc

    return float(betainc(hits, tries - hits + 1, exposure)) if hits > 0 else 1.0


def change_factors(days: Sequence[float], values: Sequence[float], least: float) -> dict[str, float]:
    """Bayes factors of 'drift up', 'drift down', 'step up', 'step down' of a quantity, each against all else.

    days: instants [d], ascending; values: the quantity, one each; least: the smallest change over the whole that
    matters, in the unit of the quantity. By the Bayes information criterion of a line and of one step against a
    constant; fewer than 6 values say nothing (all 1).
    """
    nothing = dict.fromkeys(("drift up", "drift down", "step up", "step down"), 1.0)
    if len(values) < 6:
        return nothing
    x, y = np.asarray(days, float), np.asarray(values, float)
    floor = max((least / 4) ** 2, 1e-12)  # a scatter far below what matters decides nothing

    def fit(residual: np.ndarray, parameters: int) -> float:
        return -0.5 * len(y) * math.log(float(np.mean(residual**2)) + floor) - 0.5 * parameters * math.log(len(y))

    constant = fit(y - y.mean(), 1)
    slope, offset = np.polyfit(x, y, 1)
    rise = float(slope * (x[-1] - x[0]))
    line = fit(y - (slope * x + offset), 2)
    jumps = [(fit(np.concatenate([y[:k] - y[:k].mean(), y[k:] - y[k:].mean()]), 3), k) for k in range(2, len(y) - 1)]
    step, at = max(jumps)
    jump = float(y[at:].mean() - y[:at].mean())
    names = [("", constant)]
    names.append((("drift up" if rise > 0 else "drift down") if abs(rise) >= least else "", line))
    names.append((("step up" if jump > 0 else "step down") if abs(jump) >= least else "", step))
    top = max(log for _, log in names)
    weights = [(name, math.exp(log - top)) for name, log in names]
    whole = sum(weight for _, weight in weights)
    shares = {kind: sum(weight for name, weight in weights if name == kind) / whole for kind in nothing}
    # against a prior of a third for each model; a kind that no model names is absent
    return {kind: max(2 * share / max(1 - share, 1e-9), ABSENT) for kind, share in shares.items()}


def trend_factor(counts: Sequence[int], exposure: Sequence[float]) -> float:
    """Bayes factor for `growing` against `constant` of counts per exposure, by equal stretches in order.

    Rates that grow three-, ten- or thirtyfold over the whole are taken as equally likely if they grow (judgement).
    """
    n, whole = sum(counts), sum(exposure)
    if n < 4 or len(counts) < 4 or whole <= 0:
        return 1.0
    y, e = np.asarray(counts, float), np.asarray(exposure, float)
    place = np.linspace(0.0, 1.0, len(y))

    def log(growth: float) -> float:
        rate = e * growth**place
        share = rate / rate.sum()
        return float((y[share > 0] * np.log(share[share > 0])).sum())

    flat = log(1.0)
    return float(np.mean([math.exp(min(log(growth) - flat, 50.0)) for growth in (3.0, 10.0, 30.0)]))


def onset_factor(counts: Sequence[int], exposure: Sequence[float]) -> tuple[float, int]:
    """Bayes factor for `begins at one of these stretches, nothing before` against a constant rate; and which one.

    A beginning at the first stretch is no onset. A tenth of the later rate before it is allowed (judgement).
    """
    n = sum(counts)
    if n < 3 or len(counts) < 4:
        return 1.0, 0
    y, e = np.asarray(counts, float), np.asarray(exposure, float)

    def log(before: float, at: int) -> float:
        rate = e * np.where(np.arange(len(e)) < at, before, 1.0)
        share = rate / rate.sum()
        return float((y[share > 0] * np.log(share[share > 0])).sum())

    flat = log(1.0, 0)
    found = [(log(0.1, at) - flat, at) for at in range(1, len(y)) if e[:at].sum() > 0 and e[at:].sum() > 0]
    if not found:
        return 1.0, 0
    best, at = max(found)
    return float(np.mean([math.exp(min(value, 50.0)) for value, _ in found])) if best > 0 else ABSENT, at


def lines(rows: pl.Series) -> tuple[int, ...]:
    """Lines, each once, ascending."""
    return tuple(rows.unique().sort().to_list())


def lines_behind(frame: pl.DataFrame) -> tuple[int, ...]:
    """All lines behind the rows of a frame with the column `rows`."""
    return lines(frame["rows"].explode().drop_nulls())
