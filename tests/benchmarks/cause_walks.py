"""Checks made one after the other until the right cause is settled, by different rules of choosing the next one."""

from __future__ import annotations

import random
from collections.abc import Callable
from types import MappingProxyType
from typing import Final, NamedTuple

from eventlens.causes.checks import proposals
from eventlens.causes.diagnosis import Answer
from eventlens.causes.models import Knowledge, Step
from eventlens.causes.ranking import OTHER, Ranked, step_of

SETTLED: Final = 0.8
"""A cause is settled when it stands first with this probability."""
MOST: Final = 15
"""After so many checks a person gives up."""

Made = dict[tuple[str, str], bool]
"""(check, cause for which it was made) -> whether its outcome was positive."""


class Walk(NamedTuple):
    """What it took."""

    checks: int
    minutes: float
    settled: bool


def walk(strategy: str, answer: Answer, cause: str, knowledge: Knowledge, rng: random.Random) -> Walk:
    """Checks by a strategy until the right cause is settled; outcomes are drawn with the chances of the knowledge."""
    ranked, made, minutes = list(answer.ranked), Made(), 0.0
    while not (ranked[0].cause == cause and ranked[0].probability >= SETTLED):
        chosen = STRATEGIES[strategy](answer.complaint, ranked, knowledge, made) if len(made) < MOST else None
        if chosen is None:
            return Walk(len(made), minutes, False)
        check, about = chosen
        own = step_of(knowledge.causes[about], check)
        assert own is not None  # it was chosen because this cause asks for it
        positive = rng.random() < (own.if_true if about == cause else own.if_other)
        made[check, about] = positive
        minutes += knowledge.checks[check].minutes
        ranked = updated(ranked, about, own, positive=positive)
    return Walk(len(made), minutes, True)


def updated(ranked: list[Ranked], about: str, own: Step, *, positive: bool) -> list[Ranked]:
    """The ranking after the outcome of a check that was made for a cause: its odds change by the ratio of chances."""
    ratio = own.if_true / own.if_other if positive else (1 - own.if_true) / (1 - own.if_other)
    weights = [item.probability * (ratio if item.cause == about else 1.0) for item in ranked]
    whole = sum(weights)
    changed = [Ranked(item.cause, weight / whole, item.arguments) for item, weight in zip(ranked, weights, strict=True)]
    return sorted(changed, key=lambda item: -item.probability)


def _left(ranked: list[Ranked], knowledge: Knowledge, made: Made) -> list[tuple[str, str]]:
    """Checks on the machine that were not made yet, by cause in the order of the ranking."""
    return [
        (step.check, item.cause)
        for item in ranked
        if item.cause != OTHER
        for step in knowledge.causes[item.cause].checks
        if knowledge.checks[step.check].state != "desk" and (step.check, item.cause) not in made
    ]


def _proposed(complaint: str, ranked: list[Ranked], knowledge: Knowledge, made: Made) -> tuple[str, str] | None:
    """The check that the tool proposes next."""
    offered = proposals(complaint, ranked, knowledge, made)
    return (offered[0].check, offered[0].cause) if offered else None


def _likeliest(complaint: str, ranked: list[Ranked], knowledge: Knowledge, made: Made) -> tuple[str, str] | None:
    """The first check of the cause that is now the likeliest."""
    return next(iter(_left(ranked, knowledge, made)), None)


def _fixed(complaint: str, ranked: list[Ranked], knowledge: Knowledge, made: Made) -> tuple[str, str] | None:
    """The first check of each cause in the order of the priors, then the second of each, whatever came out."""
    by_prior = sorted((one for one in ranked if one.cause != OTHER), key=lambda i: -knowledge.causes[i.cause].prior)
    left = _left(by_prior, knowledge, made)
    done = {item.cause: sum(about == item.cause for _, about in made) for item in by_prior}
    return min(left, key=lambda one: done[one[1]], default=None)


Strategy = Callable[[str, list[Ranked], Knowledge, Made], tuple[str, str] | None]
STRATEGIES: Final = MappingProxyType[str, Strategy](
    {"proposed": _proposed, "likeliest": _likeliest, "by prior": _fixed}
)
"""Rules by which the next check is chosen."""
