"""The diagnosis as plain dictionaries: the keys `causes`, `complaints` and `next_check` of the JSON form."""

from __future__ import annotations

from typing import Any, Final

from eventlens.causes.checks import Proposal
from eventlens.causes.diagnosis import Answer, Diagnosis
from eventlens.causes.models import Knowledge
from eventlens.causes.ranking import OTHER, Argument, Ranked, step_of

ROWS: Final = 12
"""So many lines at most are named for a reason, the first of them."""
OTHER_TITLE = "none of the known causes"


def causes_of(diagnosis: Diagnosis) -> dict[str, Any]:
    """The causes of each complaint, the likeliest first, what the log cannot decide, and the check to make next."""
    return {
        "complaints": [
            {
                "complaint": answer.complaint,
                "asks": answer.asks,
                "motion": answer.motion,
                "patterns": list(answer.patterns),
                "count": answer.count,
                "cannot_tell_apart": list(answer.undecided),
                "would_tell": list(answer.would_split),
            }
            for answer in diagnosis.answers
        ],
        "causes": [_cause(answer, item, diagnosis.knowledge) for answer in diagnosis.answers for item in answer.ranked],
        "out_of_use": [{"cause": cause, "why": why} for cause, why in diagnosis.out_of_use],
        "checks_made": [
            {"check": check, "cause": cause, "outcome": "positive" if positive else "negative"}
            for (check, cause), positive in diagnosis.outcomes.items()
        ],
        "next_check": _proposal(diagnosis.next, diagnosis.knowledge) if diagnosis.next else {},
    }


def title_of(cause: str, knowledge: Knowledge) -> str:
    """A cause in words."""
    return OTHER_TITLE if cause == OTHER else knowledge.causes[cause].title


def _cause(answer: Answer, item: Ranked, knowledge: Knowledge) -> dict[str, Any]:
    known = knowledge.causes.get(item.cause)
    return {
        "cause": item.cause,
        "title": title_of(item.cause, knowledge),
        "complaint": answer.complaint,
        "probability": round(item.probability, 4),
        "for": [_argument(one) for one in item.for_],
        "against": [_argument(one) for one in item.against],
        "checks": [one.check for one in known.checks] if known else [],
        "remedy": known.remedy if known else "",
        "out_of_use": known.out_of_use if known else "",
    }


def _argument(one: Argument) -> dict[str, Any]:
    return {
        "evidence": one.sign.key,
        "text": one.sign.text,
        "why": one.why,
        "odds": float(f"{one.ratio:.3g}"),
        "p": None if one.sign.p is None else float(f"{one.sign.p:.3g}"),
        "rows": list(one.sign.rows[:ROWS]),
    }


def _proposal(proposal: Proposal, knowledge: Knowledge) -> dict[str, Any]:
    check = knowledge.checks[proposal.check]
    own = step_of(knowledge.causes[proposal.cause], proposal.check)
    assert own is not None  # it was proposed for this cause because the cause lists it
    return {
        "check": proposal.check,
        "for_cause": proposal.cause,
        "complaint": proposal.complaint,
        "what": check.what,
        "tool": check.tool,
        "minutes": check.minutes,
        "state": check.state,
        "risk": check.risk,
        "positive": own.positive,
        "negative": own.negative,
        "gain": round(proposal.gain, 4),
        "cautions": [caution.text for caution in knowledge.cautions_of(proposal.check)],
    }
