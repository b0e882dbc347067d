"""Section of the report: likely causes with what speaks for and against each, and the check to make next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from eventlens.causes.diagnosis import Answer
from eventlens.causes.ranking import OTHER, Argument, Ranked, step_of
from eventlens.causes.written import title_of
from eventlens.report.lines import Page
from eventlens.report.words import counted, lines_of, listed
from eventlens.result import Review

INTRODUCTION: Final = "A ranking by what this log shows, never a verdict; strengths and priors are judgement."
SHOWN: Final = 3
"""So many causes of a complaint are explained; the rest is only named."""
ARGUMENTS: Final = 3
"""So many reasons for, and as many against."""
SUREST: Final = 0.99
"""No ranking is shown as surer than this."""
LEAST: Final = 0.03
"""Causes below this probability are left to the JSON form."""
STATE: Final = {
    "desk": "at the desk",
    "work": "during ordinary work, watched from a safe place",
    "no_load_run": "running without a load, covers shut, area clear",
    "isolated": "isolated, locked off and tagged, proved dead",
    "live": "energised with covers open: only a competent person with a second one beside",
    "test": "with a known load a hand's width above the floor, by a competent person",
}
"""State of the machine for a check (knowledge/checks.toml)."""


@dataclass(frozen=True)
class Told:
    """One cause in words."""

    share: str
    """Its probability, as '61%'."""
    title: str
    reasons: tuple[tuple[str, str], ...]
    """('for' or 'against', what was seen)."""


@dataclass(frozen=True)
class Complaint:
    """One complaint in words."""

    asks: str
    causes: tuple[Told, ...]
    also: str
    """Further causes, only named; may be empty."""
    undecided: str
    """What this log cannot decide and what could; may be empty."""


@dataclass(frozen=True)
class NextCheck:
    """The check to make next, in words."""

    what: str
    facts: tuple[tuple[str, str], ...]
    """(label, text)."""
    cautions: tuple[str, ...]
    then: str
    name: str
    """As its outcome is stated: check and cause, 'no_load_run:brake_coil'."""


def complaints(review: Review) -> list[Complaint]:
    """Every complaint of the review, the most serious first."""
    return [_complaint(review, answer) for answer in review.causes.answers]


def dangers(review: Review) -> list[str]:
    """What takes the machine out of use, whatever its rank, and why."""
    knowledge = review.causes.knowledge
    return [f"{title_of(cause, knowledge)} cannot be ruled out: {why}" for cause, why in review.causes.out_of_use]


def next_check(review: Review) -> NextCheck | None:
    """The check that settles most; None where none would."""
    proposal, knowledge = review.causes.next, review.causes.knowledge
    if proposal is None:
        return None
    check = knowledge.checks[proposal.check]
    facts = [
        ("name", proposal.check),
        ("settles", title_of(proposal.cause, knowledge)),
        ("takes", f"{check.minutes:g} min without the way to the hoist; {check.tool}"),
        ("state", STATE[check.state]),
    ]
    if own := step_of(knowledge.causes[proposal.cause], proposal.check):
        facts += [("positive", own.positive), ("negative", own.negative)]
    return NextCheck(
        check.what,
        tuple(facts),
        tuple(caution.text for caution in knowledge.cautions_of(proposal.check)),
        f"eventlens review ... --checked {proposal.check}=positive (or negative)",
        f"{proposal.check}:{proposal.cause}",
    )


def write(page: Page, review: Review) -> None:
    """Every complaint with its causes, what takes the machine out of use, and the next check."""
    told = complaints(review)
    if not told:
        return
    page.heading("Likely causes")
    page.say(INTRODUCTION, "  ")
    for danger in dangers(review):
        page.say(f"out of use: {danger}", "  ! ", "    ", style="out_of_service")
    for complaint in told:
        page.gap()
        page.say(complaint.asks, "  ")
        for cause in complaint.causes:
            page.say(cause.title, f"  {cause.share:>4} ", "       ")
            for side, text in cause.reasons:
                page.say(f"{side}: {text}", "       ", "         ")
        for text in (complaint.also, complaint.undecided):
            if text:
                page.say(text, "    ", "    ")
    if check := next_check(review):
        _write_check(page, check)


def _write_check(page: Page, check: NextCheck) -> None:
    page.heading("Next check")
    page.say(check.what, "  ", style="heading")
    for label, text in check.facts:
        page.pair(label, text)
    for caution in check.cautions:
        page.say(caution, "  ! ", "    ")
    page.say(f"then: {check.then}", "  ")


def _complaint(review: Review, answer: Answer) -> Complaint:
    knowledge = review.causes.knowledge
    likely = [item for item in answer.ranked if item.probability >= LEAST]
    rest = [f"{title_of(item.cause, knowledge)} {item.probability:.0%}" for item in likely[SHOWN:]]
    often = f" ({counted(answer.count, 'time')})" if answer.count else ""
    undecided = ""
    if answer.undecided:
        names = " and ".join(title_of(cause, knowledge) for cause in answer.undecided)
        undecided = f"this log cannot decide between {names}; it could with {listed(answer.would_split, 3)}"
    return Complaint(
        f"{answer.asks[0].upper()}{answer.asks[1:]}{often}",
        tuple(_told(review, item) for item in likely[:SHOWN]),
        f"also: {listed(rest, 4)}" if rest else "",
        undecided,
    )


def _told(review: Review, item: Ranked) -> Told:
    reasons: list[tuple[str, str]] = []
    if item.cause != OTHER:
        for side, found in (("for", item.for_), ("against", item.against)):
            reasons += [(side, _said(argument, review)) for argument in found[:ARGUMENTS]]
    return Told(f"{min(item.probability, SUREST):.0%}", title_of(item.cause, review.causes.knowledge), tuple(reasons))


def _said(argument: Argument, review: Review) -> str:
    """What was seen, why it matters, and where it stands in the dump."""
    sign = argument.sign
    title = review.causes.knowledge.evidence[sign.key].title
    what = title if sign.factor > 1 else f"no sign of '{title}'"
    why = f" ({argument.why})" if argument.why else ""
    chance = f"; by chance {sign.p:.1%}" if sign.p is not None and sign.p < 0.2 else ""
    rows = f"; {lines_of(sign.rows, review.log.files)}" if sign.rows else ""
    return f"{what}{why}: {sign.text}{chance}{rows}"
