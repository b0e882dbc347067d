"""Builds the one document of a review; html.py and pdf.py draw it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace
from typing import Final

from eventlens.errors import EventlensError, nearest
from eventlens.report.document import _causes, _duty, _findings, _front, _history, _life, _method, _record, _work
from eventlens.report.document.language import Words, text
from eventlens.report.document.model import Document, Facts, Section
from eventlens.report.words import Clock
from eventlens.result import Review

FRONT = ("found", "next", "before", "trust")
"""Ids of the sections of the first page."""
ALWAYS: Final = (*FRONT, "findings", "gaps", "cautions", "repeat")
"""Ids of the sections that every report has: what is dangerous, what was found, the cautions, how far the log can be
trusted, what could not be assessed, and what was read by which program, with its hashes. Whoever is handed a report
without them would take what is not said for what is not there."""
CHOICE: Final = ("evidence", "causes", "checks", "duty", "work", "life", "clear", "quality", "method", "limits")
"""Ids of the sections that a report may be without; its head names those that were left out."""


def chosen(wanted: Iterable[str] | None) -> tuple[str, ...]:
    """Those of CHOICE that a report is to have; None: all. Names of ALWAYS are known too; EventlensError for others."""
    if wanted is None:
        return CHOICE
    names = list(wanted)
    for name in names:
        if name not in (*CHOICE, *ALWAYS):
            raise EventlensError("a section of the report", f"'{name}'", nearest(name, CHOICE))
    return tuple(name for name in CHOICE if name in names)


def document_of(review: Review, words: Words, wanted: Collection[str] = CHOICE) -> Document:
    """The report in one language, of the sections of CHOICE only those wanted. The same review gives the same one."""
    clock = Clock.of(review.log)
    machine = review.machine.id
    every = (
        *_front.first_page(review, words, clock, every_cause="causes" not in wanted),
        *_findings.findings(review, words, clock),
        *_causes.causes(review, words),
        _duty.duty(review, words, clock),
        _work.work(review, words),
        _life.life(review, words, clock),
        *_history.history(review, words, clock),
        *_record.gaps(review, words),
        _record.quality(review, words, clock),
        *_method.method(review, words),
        _method.cautions(review, words),
        _method.repeat(review, words),
    )
    return Document(
        language=words.code,
        title=words("title", machine=machine),
        identity=_identity(_front.identity_facts(review, words, clock), every, wanted, words),
        footer=words("footer_caution"),
        page_of=words.words["page_of"],
        sections=tuple(section for section in every if _stays(section, wanted)),
        front=FRONT,
        labels={"contents": words("contents")},
    )


def _stays(section: Section, wanted: Collection[str]) -> bool:
    return section.id not in CHOICE or section.id in wanted


def _identity(facts: Facts, every: Iterable[Section], wanted: Collection[str], words: Words) -> Facts:
    """The head of the document, with the titles of what was left out."""
    titles = [section.title for section in every if not _stays(section, wanted)]
    if not titles:
        return facts
    return replace(facts, pairs=(*facts.pairs, (words.say("left_out"), text(", ".join(titles)))))
