"""Findings: a table of all of them, then the most serious with what proves them and a timing diagram of each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import polars as pl

from eventlens import patterns
from eventlens.contract import rests_on_proposed
from eventlens.report.document._front import place
from eventlens.report.document.diagram import draw
from eventlens.report.document.language import Words, code, joined, text
from eventlens.report.document.model import Block, Facts, Figure, Inline, Level, Paragraph, Section, Table
from eventlens.report.words import Clock
from eventlens.result import Review
from eventlens.schema import SEVERITIES

EXPLAINED: Final = 40
"""So many findings, the most serious, are explained one by one; the table holds all of them."""
DRAWN: Final = 12
"""So many of these get a timing diagram."""
KEY: Final = ("pattern", "motion", "signal")


def findings(review: Review, words: Words, clock: Clock) -> list[Section]:
    """The sections about findings."""
    if review.findings.is_empty():
        return [Section("findings", words("findings"), (Paragraph(words.say("none_among_assessed")),))]
    every = list(review.findings.iter_rows(named=True))
    blocks: list[Block] = [Paragraph(words.say("findings_intro")), _table(every, review, words, clock)]
    details: list[Block] = [
        block for n, row in enumerate(every[:EXPLAINED], 1) for block in _one(n, row, review, words, clock)
    ]
    if len(every) > EXPLAINED:
        details.append(Paragraph(words.say("not_explained", n=len(every) - EXPLAINED, most=EXPLAINED)))
    if len(every) > DRAWN:
        details.append(Paragraph(words.say("not_drawn", n=min(len(every), EXPLAINED) - DRAWN, most=DRAWN)))
    return [
        Section("findings", words("findings"), tuple(blocks)),
        Section("evidence", words("evidence"), (Paragraph(words.say("diagram_legend")), *details)),
    ]


def _table(every: list[dict[str, Any]], review: Review, words: Words, clock: Clock) -> Table:
    heads = ("number", "finding", "where", "asks_for", "times_certain", "per_hour", "first", "last")
    rows = tuple(
        (
            text(str(number)),
            (words.english(patterns.catalogue()[row["pattern"]].title),),
            where(row, words),
            words.say(f"severity_{row['severity']}"),
            text(f"{row['count']} ({row['certain_count']})"),
            text(_rate(row, words)),
            text(clock(row["first"])),
            text(clock(row["last"])),
        )
        for number, row in enumerate(every, 1)
    )
    return Table(
        words("all_findings"),
        tuple(words.say(f"head_{name}") for name in heads),
        rows,
        (0, 4, 5),
        (5, 22, 15, 13, 11, 16, 12, 12),
        silent=True,
    )


def where(row: dict[str, Any], words: Words) -> Inline:
    """Motion, or the signal that it is about."""
    motion = place(row["motion"], words)
    if row["signal"]:
        return text(motion and f"{motion}, ", code(str(row["signal"])))
    return text(motion or words("whole_machine"))


def _rate(row: dict[str, Any], words: Words) -> str:
    if row["rate_per_hour"] is None:
        return "-"
    value, low, high = (words.number(row[name]) for name in ("rate_per_hour", "rate_low", "rate_high"))
    return words("rate", value=value, low=low, high=high)


def _one(number: int, row: dict[str, Any], review: Review, words: Words, clock: Clock) -> Iterator[Block]:
    """One finding with everything that is known of it."""
    pattern = patterns.catalogue()[row["pattern"]]
    title = text(f"{number}. ", words.english(pattern.title), ", ", *where(row, words))
    level = len(SEVERITIES) - SEVERITIES.index(row["severity"])
    yield Level(f"finding-{number}", title, words(f"severity_{row['severity']}"), level)
    part = _evidence(row, review)
    shown = _shown(part)
    facts: list[tuple[Inline, Inline]] = [(words.say("how_often"), text(_how_often(row, words)))]
    if more := _clause(row, pattern.title):
        facts.append((words.say("more"), (words.english(more),)))
    facts.append((words.say("why_severity"), (words.english(pattern.why_severity),)))
    if pattern.usually:
        facts.append((words.say("usually"), (words.english(pattern.usually),)))
    facts.append((words.say("shown"), _occurrence(shown, review, words, clock)))
    if rests_on_proposed(review.log, row["motion"], row["signal"]):
        facts.append((words.say("doubt"), words.say("proposed")))
    yield Facts(tuple(facts))
    if number <= DRAWN:
        yield from _drawing(number, shown, review, words)


def _evidence(row: dict[str, Any], review: Review) -> pl.DataFrame:
    same = [pl.col(name).cast(pl.String).eq_missing(pl.lit(row[name], pl.String)) for name in KEY]
    return review.occurrences.filter(*same).sort("start", maintain_order=True)


def _shown(part: pl.DataFrame) -> dict[str, Any]:
    """The first certain occurrence, else the first possible one, with its number."""
    numbered = part.with_row_index("number", 1)
    certain = numbered.filter(pl.col("certainty") == "certain")
    return (certain if certain.height else numbered).row(0, named=True)


def _how_often(row: dict[str, Any], words: Words) -> str:
    sure = words(
        "sure_counts", n=row["count"], certain=row["certain_count"], possible=row["count"] - row["certain_count"]
    )
    rate = _rate(row, words)
    return sure + (words("per_observed_hour", rate=rate) if rate != "-" else "")


def _clause(row: dict[str, Any], title: str) -> str:
    """What the summary says beyond title and count, in its own English words."""
    return str(row["summary"]).partition("; ")[2] if title in row["summary"] else str(row["summary"])


def _occurrence(found: dict[str, Any], review: Review, words: Words, clock: Clock) -> Inline:
    """When, what was measured against which limit, and the lines of the dump."""
    pattern = patterns.catalogue()[found["pattern"]]
    sure = words(f"certainty_{found['certainty']}")
    parts = [words.say("occurrence", n=found["number"], at=clock(found["start"]), sure=sure)]
    for name in ("measured", "limit"):
        if found[name] is not None:
            parts.append(text(words(name, value=words.number(found[name])), " ", words.english(pattern.unit)))
    proof = words.lines_of(found["rows"], review.log.files) if found["rows"] else words("no_single_line")
    return joined([*parts, text(proof)], "; ")


def _drawing(number: int, found: dict[str, Any], review: Review, words: Words) -> Iterator[Block]:
    drawing = draw(review, found, words)
    caption = words("figure", number=number, n=found["number"])
    if drawing.left_out:
        caption += " " + words("not_in_picture", names=words.listed(drawing.left_out, 6))
    yield Figure(drawing.svg, text(caption), drawing.alt)
