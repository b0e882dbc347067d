"""Builds the one document of a review; html.py and pdf.py draw it."""

from __future__ import annotations

from eventlens.report.document import _causes, _duty, _findings, _front, _history, _life, _method, _record
from eventlens.report.document.language import Words
from eventlens.report.document.model import Document
from eventlens.report.words import Clock
from eventlens.result import Review


def document_of(review: Review, words: Words) -> Document:
    """The whole report in one language. The same review gives the same document."""
    clock = Clock.of(review.log)
    machine = review.machine.id
    sections = (
        *_front.first_page(review, words, clock),
        *_findings.findings(review, words, clock),
        *_causes.causes(review, words),
        _duty.duty(review, words, clock),
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
        identity=_front.identity_facts(review, words, clock),
        footer=words("footer_caution"),
        page_of=words.words["page_of"],
        sections=sections,
        front=FRONT,
        labels={"contents": words("contents")},
    )


FRONT = ("found", "next", "before", "trust")
"""Ids of the sections of the first page."""
