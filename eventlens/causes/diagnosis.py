"""All complaints of a log with their likely causes, what cannot be decided, and the check to make next."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from eventlens.causes.checks import Proposal, in_order, proposals
from eventlens.causes.complaints import Complaint, complaints_of, gravity
from eventlens.causes.evidence import signs_of
from eventlens.causes.models import Addition, Cause, Knowledge
from eventlens.causes.ranking import OTHER, Outcomes, Ranked, merged, rank
from eventlens.causes.signs import PLAINLY, Sign
from eventlens.causes.subject import Subject
from eventlens.causes.ways import spelled
from eventlens.threads import in_threads

SPLITS: Final = 2
"""A mark of this strength or more splits two causes (the rule of `cannot decide`, judgement)."""

PARTS: Final = 3
"""... and where the signal that decides is not logged, nothing less than a difference of this many does (judgement)."""


@dataclass(frozen=True)
class Answer:
    """One complaint answered as far as the log goes."""

    complaint: str
    """As 'losses hoist'."""
    asks: str
    """The question in words."""
    motion: str | None
    patterns: tuple[str, ...]
    certain: tuple[str, ...]
    """Those of which an occurrence is certain."""
    count: int
    gravity: int
    """Place of its severity in schema.SEVERITIES."""
    ranked: tuple[Ranked, ...]
    """Causes, the likeliest first; OTHER is one of them."""
    undecided: tuple[str, ...]
    """Causes that the log cannot tell apart, the likeliest first; empty where it can."""
    would_split: tuple[str, ...]
    """What would tell them apart if it were logged, the best first."""
    signs: tuple[Sign, ...]

    @property
    def first(self) -> Ranked:
        """The likeliest cause."""
        return self.ranked[0]


@dataclass(frozen=True)
class Diagnosis:
    """Everything the log says of causes."""

    answers: tuple[Answer, ...]
    """The most serious complaints first."""
    proposals: tuple[Proposal, ...]
    """Checks, the one to make next first."""
    out_of_use: tuple[tuple[str, str], ...]
    """(cause, why): what takes the machine out of use until it is looked at, whatever its rank."""
    knowledge: Knowledge
    outcomes: Outcomes
    """Checks that were made, and what came of them."""

    @property
    def next(self) -> Proposal | None:
        """The check to make next."""
        return self.proposals[0] if self.proposals else None


WEIGHTS: Final = (4.0, 2.0, 0.5, 0.1)
"""What certainty about a complaint is worth, by its severity, the most serious first (judgement)."""


def diagnose(
    subject: Subject, knowledge: Knowledge, severities: dict[str, str], outcomes: Outcomes | None = None
) -> Diagnosis:
    """The likely causes of everything that was found, and the next check.

    severities: pattern -> severity, as in the catalogue; outcomes: checks already made.
    """
    made = outcomes or {}
    complaints, rows = complaints_of(subject), subject.states.height
    answers = in_threads(lambda complaint: _answer(complaint, knowledge, severities, made), complaints, rows)
    answers.sort(key=lambda answer: (answer.gravity, -answer.count))
    offered = [
        replace(one, gain=one.gain * WEIGHTS[answer.gravity])
        for answer in answers
        for one in proposals(answer.complaint, answer.ranked, knowledge, made)
    ]
    return Diagnosis(tuple(answers), tuple(_merged(offered)), tuple(_dangers(answers, knowledge)), knowledge, made)


def _answer(complaint: Complaint, knowledge: Knowledge, severities: dict[str, str], made: Outcomes) -> Answer:
    signs = signs_of(complaint)
    ranked = rank(complaint, signs, knowledge, made)
    undecided, would_split = undecided_of(complaint, ranked, signs, knowledge)
    return Answer(
        complaint=complaint.key,
        asks=complaint.asks,
        motion=complaint.motion,
        patterns=tuple(sorted(complaint.patterns)),
        certain=tuple(sorted(complaint.certain)),
        count=complaint.moments.height,
        gravity=gravity(complaint, severities),
        ranked=tuple(ranked),
        undecided=undecided,
        would_split=would_split,
        signs=tuple(signs.values()),
    )


def undecided_of(
    complaint: Complaint, ranked: list[Ranked], signs: dict[str, Sign], knowledge: Knowledge
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Causes that cannot be decided between, the likeliest first, and what would split them; both empty if they can.

    Either the leading causes are within `undecided_factor` of each other and something that would split them by a
    strong mark is not known from this log; or the log lacks the signals that tell what was seen from the work of other
    causes (knowledge.undecided), and nothing that it does show parts them.
    """
    named = [item for item in ranked if item.cause != OTHER]
    if not named:
        return (), ()
    factor = knowledge.strengths.undecided_factor
    close = {item.cause for item in named if item.probability * factor >= named[0].probability}
    alike = _alike(named[0].cause, complaint, signs, knowledge)
    order = [item.cause for item in named if item.cause in close | alike]
    if len(order) < 2:
        return (), ()
    splits = splitters(order if alike else order[:3], signs, knowledge, complaint)
    return (tuple(order), splits) if splits else ((), ())


def _alike(first: str, complaint: Complaint, signs: dict[str, Sign], knowledge: Knowledge) -> set[str]:
    """Causes that this log cannot tell from the leading one for want of a signal; empty where it can."""
    found: set[str] = set()
    for entry in merged(complaint, knowledge):
        rivals = {name for name in entry.causes if name != first}
        if entry.seen_in(signs) and not _told_apart(first, rivals, signs, knowledge):
            found |= rivals
    return found


def _told_apart(first: str, rivals: set[str], signs: dict[str, Sign], knowledge: Knowledge) -> bool:
    """Whether something plainly seen speaks by a strong mark more for a cause than for any of the rivals."""
    marks = {name: knowledge.causes[name].marks for name in (first, *rivals)}
    return any(
        all(marks[first].get(key, 0) - marks[name].get(key, 0) >= PARTS for name in rivals)
        for key, sign in signs.items()
        if sign.factor >= PLAINLY
    )


def splitters(close: list[str], signs: dict[str, Sign], knowledge: Knowledge, complaint: Complaint) -> tuple[str, ...]:
    """What is not known from this log and would split some causes: names of signals, or what else must be known."""
    motion = complaint.motion or "hoist"
    carried = complaint.subject.carried
    found: list[str] = []
    outside: list[str] = []
    for entry in knowledge.undecided.values():
        if len(set(entry.causes) & set(close)) > 1 and entry.holds(carried, motion):
            names = [name for one in entry.add for name in _named(one, motion)]
            found += [name for name in names if name not in carried]
    for key, evidence in knowledge.evidence.items():
        marks = [knowledge.causes[cause].marks.get(key, 0) for cause in close]
        if key not in signs and max(marks) - min(marks) >= SPLITS:
            ways = [[name for name in way if name not in carried] for way in evidence.ways(motion)]
            found += sorted(ways, key=len)[0] if ways else []
            outside += [evidence.outside] if evidence.outside and not any(ways) else []
    return tuple(dict.fromkeys(found or outside))


def _named(addition: Addition, motion: str) -> tuple[str, ...]:
    """The signals that it would add on a motion, for either direction; or what it is in words."""
    if not addition.signal:
        return (addition.what,)
    return tuple(name for way in spelled(((addition.signal,),), motion) for name in way)


def _merged(offered: Iterable[Proposal]) -> list[Proposal]:
    """One proposal for each check and cause: what it brings to several complaints adds up."""
    whole: dict[tuple[str, str], Proposal] = {}
    for one in offered:
        key = (one.check, one.cause)
        before = whole.get(key)
        gain = one.gain + (before.gain if before else 0.0)
        first = before or one
        whole[key] = replace(first, gain=gain)
    return in_order(whole.values())


def _dangers(answers: Iterable[Answer], knowledge: Knowledge) -> list[tuple[str, str]]:
    """Causes that take the machine out of use, whatever their rank: what shows their danger was plainly seen."""
    every = list(answers)
    seen = {name for answer in every for name in answer.certain}
    seen |= {sign.key for answer in every for sign in answer.signs if sign.factor >= PLAINLY}
    ranked = (item for answer in every for item in answer.ranked if item.for_)
    causes = dict.fromkeys(item.cause for item in ranked if item.cause in knowledge.causes)
    return [(name, cause.out_of_use) for name in causes if _dangerous(cause := knowledge.causes[name], seen)]


def _dangerous(cause: Cause, seen: set[str]) -> bool:
    return bool(cause.out_of_use) and (not cause.out_of_use_if or bool(seen & set(cause.out_of_use_if)))
