"""Kinds of work: what usual runs and work cycles look like."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from eventlens.report.document.language import Words, text
from eventlens.report.document.model import Block, Bullets, Inline, Paragraph, Section, Table
from eventlens.result import Review

HEADS = ("of_what", "kind_share", "length", "usual", "each_starts", "fast", "load_lifted", "direction")


def work(review: Review, words: Words) -> Section:
    """The usual kinds, the most frequent of each motion first; of what there is too little log for any."""
    blocks: list[Block] = [Paragraph(words.say("work_intro"))]
    kinds = review.work.table
    if not kinds.is_empty():
        heads = tuple(words.say(f"head_{name}") for name in HEADS)
        rows = tuple(_row(kind, words) for kind in kinds.iter_rows(named=True))
        blocks.append(Table(words("work"), heads, rows, (1, 2, 4, 5), silent=True))
    if review.work.notes:
        blocks.append(Bullets(tuple(text(words.english(note)) for note in review.work.notes)))
    return Section("work", words("work"), tuple(blocks))


def _row(kind: Mapping[str, Any], words: Words) -> tuple[Inline, ...]:
    low, high = words.span(kind["length_low_s"]), words.span(kind["length_high_s"])
    cells = (
        _subject(kind["subject"], words),
        f"{words.percent(kind['share'])} ({kind['count']})",
        words.span(kind["length_s"]),
        words("usual_length", low=low, high=high),
        words.number(kind["starts"]),
        words("not_logged") if kind["fast"] is None else words.percent(kind["fast"]),
        _load(kind, words),
        "-" if kind["direction"] is None else words(f"direction_{kind['direction']}"),
    )
    return tuple(map(text, cells))


def _subject(subject: str, words: Words) -> str:
    motion, _, runs = subject.partition(" ")
    return words("runs_of", motion=words(f"motion_{motion}")) if runs == "runs" else words("work_cycles")


def _load(kind: Mapping[str, Any], words: Words) -> str:
    if kind["load"] is None:
        return words("not_logged")
    return words("kg", n=words.number(kind["load"])) if kind["load_unit"] == "kg" else words.percent(kind["load"])
