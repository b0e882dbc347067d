"""Section of the report: likely causes with what speaks for and against each, and the check to make next."""

from __future__ import annotations

from typing import Final

from eventlens.causes.checks import Proposal
from eventlens.causes.diagnosis import Answer, Diagnosis
from eventlens.causes.models import Knowledge
from eventlens.causes.ranking import OTHER, Argument, Ranked, step_of
from eventlens.causes.written import title_of
from eventlens.report.lines import Page
from eventlens.report.words import counted, lines_of, listed
from eventlens.result import Review

SHOWN: Final = 3
"""So many causes of a complaint are explained; the rest is only named."""
ARGUMENTS: Final = 3
"""So many reasons for, and as many against."""
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


def write(page: Page, review: Review) -> None:
    """Every complaint with its causes, what takes the machine out of use, and the next check."""
    diagnosis = review.causes
    if not diagnosis.answers:
        return
    page.heading("Likely causes")
    page.say("A ranking by what this log shows, never a verdict; strengths and priors are judgement.", "  ")
    for cause, why in diagnosis.out_of_use:
        text = f"out of use: {title_of(cause, diagnosis.knowledge)} cannot be ruled out. {why}"
        page.say(text, "  ! ", "    ", style="out_of_service")
    for answer in diagnosis.answers:
        _answer(page, review, answer, diagnosis.knowledge)
    if diagnosis.next:
        _next(page, diagnosis, diagnosis.next)


def _answer(page: Page, review: Review, answer: Answer, knowledge: Knowledge) -> None:
    page.gap()
    page.say(f"{answer.asks[0].upper()}{answer.asks[1:]} ({counted(answer.count, 'time')})", "  ")
    shown = [item for item in answer.ranked if item.probability >= LEAST][:SHOWN]
    for item in shown:
        _ranked(page, review, item, knowledge)
    rest = [item for item in answer.ranked if item not in shown and item.probability >= LEAST]
    if rest:
        named = (f"{title_of(item.cause, knowledge)} {item.probability:.0%}" for item in rest)
        page.say(f"also: {listed(named, 4)}", "    ", "    ")
    if answer.undecided:
        names = " and ".join(title_of(cause, knowledge) for cause in answer.undecided)
        page.say(f"this log cannot decide between {names}; it could with {listed(answer.would_split, 3)}", "    ")


def _ranked(page: Page, review: Review, item: Ranked, knowledge: Knowledge) -> None:
    page.say(title_of(item.cause, knowledge), f"  {item.probability:>4.0%} ", "       ")
    if item.cause == OTHER:
        return
    for label, found in (("for", item.for_), ("against", item.against)):
        for argument in found[:ARGUMENTS]:
            page.say(f"{label}: {_said(argument, review, knowledge)}", "       ", "         ")


def _said(argument: Argument, review: Review, knowledge: Knowledge) -> str:
    """What was seen, why it matters, and where it stands in the dump."""
    sign = argument.sign
    title = knowledge.evidence[sign.key].title
    what = title if sign.factor > 1 else f"no sign of '{title}'"
    why = f" ({argument.why})" if argument.why else ""
    chance = f"; by chance {sign.p:.1%}" if sign.p is not None and sign.p < 0.2 else ""
    rows = f"; {lines_of(sign.rows, review.log.files)}" if sign.rows else ""
    return f"{what}{why}: {sign.text}{chance}{rows}"


def _next(page: Page, diagnosis: Diagnosis, proposal: Proposal) -> None:
    """What to do next, in which state of the machine, and what each outcome would mean."""
    knowledge = diagnosis.knowledge
    check = knowledge.checks[proposal.check]
    own = step_of(knowledge.causes[proposal.cause], proposal.check)
    page.heading("Next check")
    page.say(check.what, "  ", style="heading")
    page.pair("name", proposal.check)
    page.pair("settles", title_of(proposal.cause, knowledge))
    page.pair("takes", f"{check.minutes:g} min without the way to the hoist; {check.tool}")
    page.pair("state", STATE[check.state])
    if own:
        page.pair("positive", own.positive)
        page.pair("negative", own.negative)
    for caution in knowledge.cautions_of(proposal.check):
        page.say(caution.text, "  ! ", "    ")
    page.say(f"then: eventlens review ... --checked {proposal.check}=positive (or negative)", "  ")
