"""Likely causes of one complaint: priors and signs into probabilities that do not claim more than the log can carry.

Each cause says of each piece of evidence how much likelier it makes it than the average other cause does (its marks).
Signs that rest on the same facts are not multiplied as if each were new: of one family the strongest counts whole and
each further one a share of the one before. What none of the causes explains is left to `other`: a cause that is in no
list, which makes anything somewhat likely, so that it leads where the signs speak against all of the others, or where
each of them leaves plain signs unexplained. All weights are data of the knowledge and judgement; the power to which the
whole is raised was set on simulated machines (tests/benchmarks/causes.py), where the stated probabilities were compared
with how often they were right.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from eventlens.causes.complaints import Complaint
from eventlens.causes.models import Cause, Knowledge, Step, Undecided
from eventlens.causes.signs import Sign

Outcomes = Mapping[tuple[str, str], bool]
"""(check, cause for which it was made) -> whether its outcome was the one that the cause names as its own."""

OTHER: Final = "other"
"""None of the causes that are known."""
SPEAKS: Final = math.log(1.25)
"""A sign that changes the odds by less is not worth a line."""


@dataclass(frozen=True)
class Argument:
    """One sign for or against one cause."""

    sign: Sign
    ratio: float
    """What it multiplies the cause's odds by, alone and before damping."""
    why: str
    """Why it speaks so; may be empty."""

    @property
    def speaks_for(self) -> bool:
        """Whether it makes the cause likelier."""
        return self.ratio > 1


@dataclass(frozen=True)
class Ranked:
    """One cause of one complaint with its probability and its reasons, the strongest first."""

    cause: str
    probability: float
    arguments: tuple[Argument, ...]

    @property
    def for_(self) -> list[Argument]:
        """What speaks for it."""
        return [argument for argument in self.arguments if argument.speaks_for]

    @property
    def against(self) -> list[Argument]:
        """What speaks against it."""
        return [argument for argument in self.arguments if not argument.speaks_for]


def candidates(complaint: Complaint, knowledge: Knowledge) -> list[str]:
    """The causes that can bring about something of the complaint, in the order of the knowledge.

    Where a log with few signals cannot tell what it sees from the work of a device that is not logged, the causes of
    that are candidates too.
    """
    able = {name for pattern in complaint.patterns for name in knowledge.explaining(pattern, complaint.motion)}
    if complaint.question.only_shown:
        able.clear()
    able |= {name for entry in open_entries(complaint, knowledge) for name in entry.causes}
    able |= {name for name, cause in knowledge.causes.items() if complaint.shown_by(cause.marks)}
    return [name for name in knowledge.causes if name in able]


def rank(
    complaint: Complaint,
    signs: Mapping[str, Sign],
    knowledge: Knowledge,
    outcomes: Outcomes | None = None,
) -> list[Ranked]:
    """The causes of a complaint, the likeliest first; the probabilities with that of OTHER add up to 1.

    signs: by evidence, from evidence.signs_of; outcomes: checks that were made.
    """
    names, weights = candidates(complaint, knowledge), knowledge.strengths
    if not names:
        return [Ranked(OTHER, 1.0, ())]
    priors = {name: _prior(complaint, knowledge, name) for name in names}
    known = sum(priors.values())
    found = {name: arguments(knowledge.causes[name], signs, knowledge) for name in names}
    logs = {
        name: math.log(priors[name] / known * (1 - weights.unlisted_prior))
        + weights.power * damped(found[name], knowledge)
        + checked(name, knowledge, outcomes or {})
        for name in names
    }
    asked = {key: sign for key, sign in signs.items() if any(key in knowledge.causes[name].marks for name in names)}
    logs[OTHER] = math.log(weights.unlisted_prior) + weights.power * damped(surprises(asked, knowledge), knowledge)
    top = max(logs.values())
    odds = {name: math.exp(log - top) for name, log in logs.items()}
    whole = sum(odds.values())
    ranked = [Ranked(name, one / whole, tuple(found.get(name, ()))) for name, one in odds.items()]
    return _in_order(ranked, [entry for entry in merged(complaint, knowledge) if entry.seen_in(signs)])


def open_entries(complaint: Complaint, knowledge: Knowledge) -> list[Undecided]:
    """What this log cannot tell apart, of what the complaint looks like (knowledge.undecided)."""
    carried, motion = complaint.subject.carried, complaint.motion or "hoist"
    return [
        entry
        for entry in knowledge.undecided.values()
        if complaint.patterns & set(entry.patterns)
        and entry.holds(carried, motion, complaint.direction)
        and (complaint.direction or not entry.directions)
    ]


def merged(complaint: Complaint, knowledge: Knowledge) -> list[Undecided]:
    """Those that a signal would tell apart, which this log lacks."""
    return [entry for entry in open_entries(complaint, knowledge) if entry.decided_by]


def _in_order(ranked: Sequence[Ranked], together: Sequence[Undecided]) -> list[Ranked]:
    """The likeliest first, where causes that cannot be told apart stand where their sum puts them."""
    chances = {item.cause: item.probability for item in ranked}
    sums = dict(chances)
    for entry in together:
        whole = sum(chances.get(name, 0.0) for name in entry.causes)
        sums |= {name: max(sums[name], whole) for name in entry.causes if name in sums}
    return sorted(ranked, key=lambda item: (-sums[item.cause], -item.probability))


def _prior(complaint: Complaint, knowledge: Knowledge, name: str) -> float:
    """A cause that brings the complaint about only now and then (complaints.PLAIN) counts with a part of its prior."""
    cause = knowledge.causes[name]
    return cause.prior * (1.0 if complaint.typical(cause.marks) else knowledge.strengths.now_and_then)


def arguments(cause: Cause, signs: Mapping[str, Sign], knowledge: Knowledge) -> list[Argument]:
    """What each sign says of a cause, the strongest first; what says next to nothing is left out."""
    found = [
        Argument(signs[key], ratio_of(mark, signs[key].factor, knowledge), cause.why.get(key, ""))
        for key, mark in cause.marks.items()
        if key in signs
    ]
    return sorted(
        (one for one in found if abs(math.log(one.ratio)) >= SPEAKS), key=lambda one: -abs(math.log(one.ratio))
    )


def surprises(signs: Mapping[str, Sign], knowledge: Knowledge) -> list[Argument]:
    """What each sign says of a cause that is in no list: it makes anything likelier than the average known one does.

    signs: those of which a candidate says anything; the others say nothing of what the complaint is about. The way of
    working (family `use`) is left out: it is there with every cause.
    """
    found = []
    anything, usual = knowledge.strengths.anything, knowledge.strengths.usual[1]
    for key, sign in signs.items():
        if knowledge.evidence[key].family != "use":
            ratio = (anything * sign.factor + 1 - anything) / (usual * sign.factor + 1 - usual)
            found.append(Argument(sign, ratio, ""))
    return sorted(found, key=lambda one: -abs(math.log(one.ratio)))


def ratio_of(mark: int, factor: float, knowledge: Knowledge) -> float:
    """Odds for a cause from a sign, when the cause's mark says how likely it makes the evidence.

    With a and b the chances of the evidence under the cause and under the average other, and the sign's Bayes factor
    f for the evidence: (a f + 1 - a) / (b f + 1 - b). A sign that says nothing (f = 1) gives 1; one that shows the
    evidence plainly gives a / b, one that shows its absence (1 - a) / (1 - b).
    """
    b = knowledge.strengths.usual[abs(mark) - 1]
    ratios = knowledge.strengths.for_ if mark > 0 else knowledge.strengths.against
    a = min(b * ratios[abs(mark) - 1], 0.99)
    return (a * factor + 1 - a) / (b * factor + 1 - b)


def damped(found: Sequence[Argument], knowledge: Knowledge) -> float:
    """Logarithm of the odds of all arguments together: of each family the strongest, each further one for a share.

    What speaks for and what speaks against are told apart: neither is a repetition of the other.
    """
    weights = knowledge.strengths
    families: dict[tuple[str, bool], list[float]] = defaultdict(list)
    for argument in found:
        family = knowledge.evidence[argument.sign.key].family
        families[family, argument.speaks_for].append(math.log(argument.ratio))
    total = 0.0
    for logs in families.values():
        strongest = sorted(logs, key=abs, reverse=True)[: weights.most_of_a_family]
        total += sum(weights.further_share**place * log for place, log in enumerate(strongest))
    return total


def checked(name: str, knowledge: Knowledge, outcomes: Outcomes) -> float:
    """Logarithm of the odds that the outcomes of checks give a cause.

    An outcome is about the cause for which the check was made: that cause counts with its own chances. The others show
    such an outcome as often as others usually do, so that their odds among each other stay as they are.
    """
    total = 0.0
    for (check, cause), positive in outcomes.items():
        own = step_of(knowledge.causes[cause], check)
        if name == cause and own:
            total += math.log(own.if_true / own.if_other if positive else (1 - own.if_true) / (1 - own.if_other))
    return total


def step_of(cause: Cause, check: str) -> Step | None:
    """A check as a cause asks for it; None: it does not."""
    return next((step for step in cause.checks if step.check == check), None)
