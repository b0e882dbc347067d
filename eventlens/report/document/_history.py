"""What people wrote down about the period, and how it counts; outcomes of checks that were taken in stand among it."""

from __future__ import annotations

from eventlens.report.document.language import Words, text
from eventlens.report.document.model import Inline, Paragraph, Section, Table
from eventlens.report.words import Clock
from eventlens.result import Review, Statement


def history(review: Review, words: Words, clock: Clock) -> list[Section]:
    """The section, or none where nothing is written down."""
    if not review.history:
        return []
    heads = tuple(text(words(f"history_{name}")) for name in ("at", "kind", "text", "counts"))
    rows = tuple(_row(one, words, clock) for one in review.history)
    table = Table(words("history"), heads, rows, (), (20, 15, 30, 35), silent=True)
    return [Section("history", words("history"), (Paragraph(words.say("history_intro")), table))]


def _row(one: Statement, words: Words, clock: Clock) -> tuple[Inline, ...]:
    counts = (words.english(one.counts),) if one.counts else text(words("history_shown"))
    return text(clock(one.at)), text(words(f"history_is_{one.kind}")), text(one.text), counts
