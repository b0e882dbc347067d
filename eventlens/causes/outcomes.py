"""Outcomes of checks as a person states them, `relay_seat=negative`, and for which cause each was made."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from eventlens.causes.diagnosis import Diagnosis
from eventlens.causes.models import Knowledge
from eventlens.causes.ranking import Outcomes, step_of
from eventlens.errors import EventlensError, nearest

_FORM = re.compile(r"(?P<check>[a-z0-9_]+)(:(?P<cause>[a-z0-9_]+))?=(?P<outcome>positive|negative)")


@dataclass(frozen=True)
class Checked:
    """A check that was made."""

    check: str
    cause: str | None
    """For which cause; None: for the likeliest of those that it can confirm."""
    positive: bool


def checked_of(text: str, knowledge: Knowledge) -> Checked:
    """The check in a text like 'relay_seat=negative' or 'no_load_run:brake_coil=positive'; else EventlensError."""
    form = _FORM.fullmatch(text.strip())
    if form is None:
        remedy = "write it like relay_seat=negative, or no_load_run:brake_coil=positive"
        raise EventlensError("the outcome of a check", f"'{text}'", remedy)
    check, cause = form["check"], form["cause"]
    if check not in knowledge.checks:
        raise EventlensError("a check of the knowledge", f"'{check}'", nearest(check, knowledge.checks))
    able = [name for name, known in knowledge.causes.items() if step_of(known, check)]
    if cause is not None and cause not in able:
        raise EventlensError(f"a cause that {check} can confirm", f"'{cause}'", nearest(cause, able))
    return Checked(check, cause, form["outcome"] == "positive")


def bind(diagnosis: Diagnosis, checked: Checked) -> Outcomes:
    """The outcomes so far with one more; it counts for its cause, or for the likeliest that the check can confirm."""
    cause = checked.cause or likeliest(diagnosis, checked.check)
    return {**diagnosis.outcomes, (checked.check, cause): checked.positive}


def likeliest(diagnosis: Diagnosis, check: str) -> str:
    """The likeliest cause that a check can confirm; EventlensError if none of them is a candidate."""
    offered: dict[str, float] = {}
    for answer in diagnosis.answers:
        for item in answer.ranked:
            known = diagnosis.knowledge.causes.get(item.cause)
            if known and step_of(known, check):
                offered[item.cause] = max(item.probability, offered.get(item.cause, 0.0))
    if not offered:
        remedy = "eventlens review names the checks that could settle what it found"
        raise EventlensError("a check for one of the likely causes", f"'{check}'", remedy)
    return max(sorted(offered), key=offered.__getitem__)


def checks_in(texts: Iterable[str], knowledge: Knowledge) -> list[Checked]:
    """All checks in the order in which they were made."""
    return [checked_of(text, knowledge) for text in texts]
