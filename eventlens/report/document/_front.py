"""First page: what was found, what to do next, what is dangerous, and how far this log can be trusted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens import patterns
from eventlens.causes.diagnosis import Answer
from eventlens.causes.models import Knowledge
from eventlens.causes.ranking import OTHER
from eventlens.contract import rests_on_proposed
from eventlens.report.document._checks import check_box
from eventlens.report.document.language import Words, joined, strong, text
from eventlens.report.document.model import Block, Box, Bullets, Facts, Inline, Paragraph, Section, Span
from eventlens.report.words import Clock
from eventlens.result import Review
from eventlens.schema import SEVERITIES

COMPLAINTS: Final = 5
"""So many complaints are answered on the first page; the rest follows in its section."""
STOPS: Final = 8
"""So many reasons not to use the machine are named on the first page."""
SURE: Final = ((0.8, "sure_high"), (0.5, "sure_likely"), (0.25, "sure_perhaps"), (0.0, "sure_open"))
"""In words, from which probability on (judgement)."""


def first_page(review: Review, words: Words, clock: Clock, *, every_cause: bool = False) -> list[Section]:
    """The sections of the first page. every_cause: answers every complaint there, as where no section below does."""
    answered = len(review.causes.answers) if every_cause else COMPLAINTS
    return [
        Section("found", words("found"), (*_stop(review, words), *_found(review, words, answered))),
        Section("next", words("next"), tuple(_next(review, words))),
        Section("before", words("before"), (Bullets(tuple((words.english(one),) for one in review.cautions)),)),
        Section("trust", words("trust"), (Bullets(tuple(_trust(review, words, clock))),)),
    ]


def _stop(review: Review, words: Words) -> Iterator[Block]:
    """What takes the machine out of use until somebody has looked."""
    diagnosis = review.causes
    items: list[Inline] = []
    for cause, why in diagnosis.out_of_use:
        title = words.english(diagnosis.knowledge.causes[cause].title, "strong")
        items.append(text(title, words("cannot_be_ruled_out"), words.english(why), "."))
    for row in review.findings.filter(pl.col("severity") == "out_of_service").iter_rows(named=True):
        pattern = patterns.catalogue()[row["pattern"]]
        where = place(row["motion"], words)
        title = words.english(pattern.title, "strong")
        items.append(
            text(
                where and f"{where}: ",
                title,
                f" ({words.count('times', row['count'])}): ",
                words.english(pattern.why_severity),
                ".",
            )
        )
    if items:
        only = Paragraph(words.say("stop_only"))
        yield Box(
            "stop", words.say("stop_title"), (Bullets(tuple(items[:STOPS])), *_more(len(items) - STOPS, words), only)
        )


def _more(number: int, words: Words) -> list[Block]:
    return [Paragraph(words.say("more_below", n=number))] if number > 0 else []


def place(motion: str | None, words: Words) -> str:
    """A motion in words; empty for the machine as a whole."""
    return words(f"motion_{motion}") if motion else ""


def _found(review: Review, words: Words, answered: int) -> Iterator[Block]:
    """Counts by severity, then so many complaints with their likeliest causes."""
    counts = Counter(review.findings["severity"].to_list())
    if not counts:
        yield Paragraph(words.say("nothing_found"))
    else:
        parts = ", ".join(f"{counts[name]} {words(f'severity_{name}')}" for name in SEVERITIES if counts[name])
        yield Paragraph(text(strong(words.count("findings_n", review.findings.height)), f": {parts}."))
    if not review.motions:
        yield Paragraph(words.say("no_motion"))
    answers = review.causes.answers
    if answers:
        yield Bullets(tuple(_answer(answer, review.causes.knowledge, words) for answer in answers[:answered]))
        yield from _more(len(answers) - answered, words)
        check = words("check_settles") if review.causes.next else ""
        yield Paragraph((Span(words("ranking_only") + check, "", "small"),))


def asks(answer: Answer, words: Words) -> str:
    """The question of a complaint as a heading, with how often it was seen."""
    kind = answer.complaint.split()[0]
    return words(f"asks_{kind}", motion=place(answer.motion, words))


def _answer(answer: Answer, knowledge: Knowledge, words: Words) -> Inline:
    """One complaint: what, how often, and the likeliest cause with how sure that is."""
    head = text(strong(asks(answer, words)), f" ({words.count('times', answer.count)}): ")
    known = [item for item in answer.ranked if item.cause != OTHER]
    if not known or answer.first.cause == OTHER:
        return (*head, *words.say("no_cause"))
    if answer.undecided:
        names = joined([(words.english(knowledge.causes[cause].title),) for cause in answer.undecided[:3]], words("or"))
        return (*head, *words.say("cannot_decide"), *names, Span("."))
    first = known[0]
    sure = words(
        next(key for least, key in SURE if first.probability >= least), percent=f"{100 * first.probability:.0f}"
    )
    return (*head, *text(f"{sure}: ", words.english(knowledge.causes[first.cause].title), "."))


def _next(review: Review, words: Words) -> Iterator[Block]:
    """The check to make next, or what to do where there is none."""
    diagnosis = review.causes
    if diagnosis.next:
        yield check_box(diagnosis.next, diagnosis.knowledge, words, 1)
    else:
        yield Paragraph(words.say("no_check" if review.findings.height else "nothing_to_do"))


def _trust(review: Review, words: Words, clock: Clock) -> Iterator[Inline]:
    """How far the log itself carries."""
    log = review.log
    yield words.say("trust_step", step=words.span(log.step_s), known=words.span(log.uncertainty_s))
    yield words.say("trust_observed", observed=words.span(log.observed_s))
    if log.holes.height:
        yield words.say("trust_holes", n=log.holes.height)
    if log.rhythm_s is None:
        yield words.say("trust_no_rhythm")
    if log.clock_steps.height:
        yield words.say("trust_steps", n=log.clock_steps.height)
    possible = int((review.findings["certainty"] == "possible").sum())
    if possible:
        yield words.say("trust_possible", n=possible)
    if review.not_assessed.height:
        yield words.say("trust_not_assessed", n=review.not_assessed["pattern"].n_unique())
    found = review.findings.select("motion", "signal").iter_rows()
    if any(rests_on_proposed(log, motion, signal) for motion, signal in found):
        yield words.say("trust_proposed")
    if log.rejected.height:
        yield words.say("trust_rejected", n=log.rejected.height)


def identity_facts(review: Review, words: Words, clock: Clock) -> Facts:
    """The machine, the period and the files, for the head of the document."""
    plate, log = review.machine.machine, review.log
    groups = [
        f"{place(motion, words)} {group}"
        for motion in ("hoist", "trolley", "bridge")
        if (group := review.machine.group_of(motion))
    ]
    rated = words("kg", n=f"{plate.rated_load_kg:g}") if plate.rated_load_kg else words("not_stated")
    return Facts(
        (
            (words.say("machine"), text(strong(plate.id))),
            (
                words.say("plate"),
                text(f"{words('rated_load')} {rated}; {words('groups')} {', '.join(groups) or words('not_stated')}"),
            ),
            (
                words.say("period_label"),
                words.say("period", start=clock(log.start), end=clock(log.end), zone=log.timezone),
            ),
            (words.say("files"), text(words.listed([file.name for file in log.files], 3))),
        )
    )
