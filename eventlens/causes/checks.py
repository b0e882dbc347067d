"""The next check: the one that settles most for its minutes and its risk, dead before live.

What a check is worth is the certainty it can be expected to bring: the fall of the entropy of the causes, over its two
outcomes; and for the leading cause what a confirmation from the machine itself adds, so that even a cause that seems
certain is looked at before parts are ordered. A check that the review itself has made (looking at the log again) is
never proposed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from eventlens.causes.models import Knowledge
from eventlens.causes.ranking import OTHER, Outcomes, Ranked

ENOUGH: Final = 0.3
"""A check that brings this share of the best one's certainty is worth preferring for its lower risk (judgement)."""
RISK: Final = 0.25
"""Each class of risk costs as much as so large a share of the minutes more (judgement)."""
REMAINS: Final = 0.05
"""What an outcome that confirms the leading cause is worth besides, as a share of the weight of its evidence: all that
was seen so far comes from one log, and the check is the first thing seen that does not (judgement)."""
LEAST: Final = 0.02
"""A check that brings less certainty than this [nat] is not worth a hand (judgement)."""


@dataclass(frozen=True)
class Proposal:
    """A check for one cause, and what it is expected to bring."""

    check: str
    cause: str
    """The cause that it is to confirm or to clear."""
    complaint: str
    gain: float
    """Expected fall of the entropy [nat], and for the leading cause what confirming it is worth besides."""
    minutes: float
    risk: int
    live: bool

    @property
    def worth(self) -> float:
        """Gain per minute, with the risk."""
        return self.gain / (self.minutes * (1 + RISK * self.risk))


def proposals(complaint: str, ranked: Sequence[Ranked], knowledge: Knowledge, made: Outcomes) -> list[Proposal]:
    """Every check that could still settle something of a complaint, the best first."""
    found = []
    first = next((item.cause for item in ranked if item.cause != OTHER), None)
    confirmed = any(positive for (_, cause), positive in made.items() if cause == first)
    for item in ranked:
        if item.cause == OTHER:
            continue
        for own in knowledge.causes[item.cause].checks:
            check = knowledge.checks[own.check]
            if check.state == "desk" or (own.check, item.cause) in made:
                continue
            gain = gain_of(item.probability, own.if_true, own.if_other)
            if item.cause == first and not confirmed:
                gain += REMAINS * support_of(item.probability, own.if_true, own.if_other)
            if gain >= LEAST:
                live = check.state == "live"
                found.append(Proposal(own.check, item.cause, complaint, gain, check.minutes, check.risk, live))
    return in_order(found)


def in_order(found: Iterable[Proposal]) -> list[Proposal]:
    """Proposals, the one to make first at the head: dead ones that bring enough, by worth; then the others."""
    known = list(found)
    most = max((one.gain for one in known), default=0.0)
    return sorted(known, key=lambda one: (one.live or one.gain < ENOUGH * most, -one.worth, one.check, one.cause))


def gain_of(probability: float, if_true: float, if_other: float) -> float:
    """Expected fall of the entropy of `this cause or another` [nat] by a check with these chances of being positive."""
    positive = probability * if_true + (1 - probability) * if_other
    after = 0.0
    for chance, true in ((positive, if_true), (1 - positive, 1 - if_true)):
        if chance > 0:
            after += chance * _entropy(probability * true / chance)
    return max(_entropy(probability) - after, 0.0)


def support_of(probability: float, if_true: float, if_other: float) -> float:
    """Weight of evidence [nat] that a check can be expected to bring for this cause by confirming it."""
    return probability * if_true * max(math.log(if_true / if_other), 0.0)


def _entropy(p: float) -> float:
    return -sum(q * math.log(q) for q in (p, 1 - p) if q > 0)
