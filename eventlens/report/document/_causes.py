"""Likely causes of each complaint with what speaks for and against them, and the checks that would settle most."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from eventlens.causes.checks import Proposal
from eventlens.causes.diagnosis import Answer
from eventlens.causes.models import Knowledge
from eventlens.causes.ranking import OTHER, Argument, Ranked
from eventlens.report.document._checks import check_box
from eventlens.report.document._front import asks
from eventlens.report.document.language import Words, code, joined, text
from eventlens.report.document.model import Block, Inline, Level, Paragraph, Section, Span, Table
from eventlens.result import Review

SHOWN: Final = 4
"""So many causes of a complaint stand in its table."""
ARGUMENTS: Final = 3
LEAST: Final = 0.03
"""Causes below this probability are left to the JSON form."""
CHECKS: Final = 3
"""So many checks are written out with their cautions, beside the next one on the first page."""


def causes(review: Review, words: Words) -> list[Section]:
    """The sections about causes; none where nothing was found that has any."""
    diagnosis = review.causes
    if not diagnosis.answers:
        return []
    blocks: list[Block] = [Paragraph(words.say("causes_intro"))]
    for number, answer in enumerate(diagnosis.answers, 1):
        blocks += _answer(number, answer, review, words)
    sections = [Section("causes", words("causes"), tuple(blocks))]
    if diagnosis.proposals or diagnosis.outcomes:
        sections.append(Section("checks", words("checks"), tuple(_checks(review, words))))
    return sections


def _answer(number: int, answer: Answer, review: Review, words: Words) -> Iterator[Block]:
    knowledge = review.causes.knowledge
    title = text(f"{asks(answer, words)} ({words.count('times', answer.count)})")
    yield Level(f"complaint-{number}", title, "", 0)
    shown = [item for item in answer.ranked if item.probability >= LEAST][:SHOWN]
    heads = tuple(words.say(f"head_{name}") for name in ("probability", "cause", "for", "against"))
    rows = tuple(_row(item, knowledge, review, words) for item in shown)
    yield Table(words("causes_of", asks=asks(answer, words)), heads, rows, (0,), (9, 21, 42, 28), silent=True)
    rest = sum(1 for item in answer.ranked if item not in shown)
    if rest:
        yield Paragraph(words.say("causes_left_out", n=rest))
    if answer.undecided:
        names = joined([(words.english(knowledge.causes[cause].title),) for cause in answer.undecided], words("or"))
        split = joined([_splitter(one, words) for one in answer.would_split[:3]])
        yield Paragraph((*words.say("undecided"), *names, *words.say("would_split"), *split, Span(".")))


def _splitter(one: str, words: Words) -> Inline:
    return (code(one),) if " " not in one else (words.english(one),)


def _row(item: Ranked, knowledge: Knowledge, review: Review, words: Words) -> tuple[Inline, ...]:
    probability = text(f"{100 * item.probability:.0f} %")
    if item.cause == OTHER:
        return (probability, words.say("none_of_the_known"), (), ())
    title = (words.english(knowledge.causes[item.cause].title),)
    sides = (_side(found, knowledge, review, words) for found in (item.for_, item.against))
    return (probability, title, *sides)


def _side(found: list[Argument], knowledge: Knowledge, review: Review, words: Words) -> Inline:
    said = [_said(argument, knowledge, review, words) for argument in found[:ARGUMENTS]]
    if len(found) > ARGUMENTS:
        said.append(words.say("and_n_more", n=len(found) - ARGUMENTS))
    return joined(said, "; ")


def _said(argument: Argument, knowledge: Knowledge, review: Review, words: Words) -> Inline:
    """What was seen, with its numbers and its lines."""
    sign = argument.sign
    title = words.english(knowledge.evidence[sign.key].title)
    rows = f" ({words.lines_of(sign.rows, review.log.files)})" if sign.rows else ""
    no = "" if sign.factor > 1 else words("no_sign_of")
    return text(no, title, ": ", words.english(sign.text), rows)


def _checks(review: Review, words: Words) -> Iterator[Block]:
    """The best checks, each for another purpose, with every caution that it needs."""
    proposals, knowledge = review.causes.proposals, review.causes.knowledge
    for (check, cause), positive in review.causes.outcomes.items():
        outcome = words("outcome_positive" if positive else "outcome_negative")
        yield Paragraph(text(words("made"), code(f"{check}:{cause}"), f" {outcome}"))
    if not proposals:
        return
    yield Paragraph(words.say("checks_intro"))
    seen: dict[str, Proposal] = {}
    for one in proposals:
        seen.setdefault(one.check, one)
    once = list(seen.values())
    for number, proposal in enumerate(once[1 : CHECKS + 1], 2):
        yield check_box(proposal, knowledge, words, number)
    if len(once) > CHECKS + 1:
        yield Paragraph(words.say("checks_left_out", n=len(once) - CHECKS - 1))
