"""What could not be assessed and why, what was looked for in vain, and the quality of the log itself."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.reading.log import Log
from eventlens.report import _gaps
from eventlens.report.document._front import place
from eventlens.report.document.language import Words, code, joined, text
from eventlens.report.document.model import Block, Bullets, Facts, Inline, Paragraph, Section, Table
from eventlens.report.words import Clock, either
from eventlens.result import Review

HOLES_SHOWN: Final = 20
STEPS_SHOWN: Final = 20
REASONS_SHOWN: Final = 20
LEAST_UNKNOWN: Final = 0.001
"""Share of the observed time below which an unknown state is not worth a line."""

Pairs = Iterator[tuple[Inline, Inline]]


def gaps(review: Review, words: Words) -> list[Section]:
    """What this log cannot show, and what was looked for and not found."""
    lacks = _gaps.lacking(review)
    blocks: list[Block] = [Paragraph(words.say("gaps_intro" if lacks else "gaps_none"))]
    if lacks:
        heads = _heads(("why", "needs", "not_assessed"), words)
        blocks.append(
            Table(
                words("gaps_table"), heads, tuple(_lack(lack, words) for lack in lacks), (), (22, 38, 40), silent=True
            )
        )
    clear = _gaps.clear_of(review)
    items = tuple(
        text(
            f"{', '.join(place(motion, words) for motion in places) or words('whole_machine')}: ",
            *_titles(titles, words),
        )
        for places, titles in clear.items()
    )
    found = [Section("gaps", words("gaps"), tuple(blocks))]
    if items:
        found.append(Section("clear", words("clear"), (Paragraph(words.say("clear_intro")), Bullets(items))))
    return found


def _titles(titles: tuple[str, ...] | list[str], words: Words) -> Inline:
    return joined([(words.english(title),) for title in titles])


def _lack(lack: _gaps.Lack, words: Words) -> tuple[Inline, ...]:
    needs = joined([_need(need, words) for need in lack.needs])
    where = text(f" ({', '.join(place(motion, words) for motion in lack.places)})") if lack.places else ()
    return (words.say(f"why_not_{lack.why}"), (*needs, *where), _titles(lack.titles, words))


def _need(need: str, words: Words) -> Inline:
    return (words.english(need),) if " " in need else (code(either(need)),)


def quality(review: Review, words: Words, clock: Clock) -> Section:
    """The record: time, holes, clock steps, step, rows, signals."""
    log = review.log
    blocks: list[Block] = [Facts(tuple(_facts(review, words, clock)))]
    blocks += _holes(log, words, clock)
    blocks += _clock_steps(log, words, clock)
    blocks += _set_aside(log, words)
    blocks += _signals(review, words)
    if log.notes:
        blocks.append(Paragraph(words.say("decided")))
        blocks.append(Bullets(tuple((words.english(note),) for note in log.notes)))
    return Section("quality", words("quality"), tuple(blocks))


def _holes(log: Log, words: Words, clock: Clock) -> Iterator[Block]:
    if log.holes.is_empty():
        return
    rows = tuple(
        (
            text(clock(start)),
            text(clock(end)),
            text(words.span((end - start).total_seconds())),
            (words.english(why),),
            text(words.lines_of(lines, log.files)),
        )
        for start, end, why, lines in log.holes.head(HOLES_SHOWN).select("start", "end", "why", "rows").iter_rows()
    )
    yield Table(words("holes_table"), _heads(("from", "to", "length", "recognised", "lines"), words), rows, (2,))
    yield from _rest(log.holes.height - HOLES_SHOWN, words)


def _clock_steps(log: Log, words: Words, clock: Clock) -> Iterator[Block]:
    if log.clock_steps.is_empty():
        return
    steps = log.clock_steps.head(STEPS_SHOWN).select("at", "seconds", "rows", "why").iter_rows()
    rows = tuple(
        (text(clock(at)), text(f"{seconds:+g} s"), text(words.lines_of(lines, log.files)), (words.english(why),))
        for at, seconds, lines, why in steps
    )
    yield Table(words("steps_table"), _heads(("at", "step", "lines", "recognised"), words), rows, (1,))
    yield from _rest(log.clock_steps.height - STEPS_SHOWN, words)


def _heads(names: tuple[str, ...], words: Words) -> tuple[Inline, ...]:
    return tuple(words.say(f"head_{name}") for name in names)


def _rest(number: int, words: Words) -> list[Block]:
    return [Paragraph(words.say("rest_in_json", n=number))] if number > 0 else []


def _facts(review: Review, words: Words, clock: Clock) -> Pairs:
    log, shifts = review.log, review.shifts
    yield words.say("period_label"), words.say("period", start=clock(log.start), end=clock(log.end), zone=log.timezone)
    yield words.say("observed"), words.say("observed_text", observed=words.span(log.observed_s))
    yield (
        words.say("holes"),
        words.say("holes_n", n=log.holes.height) if log.holes.height or log.rhythm_s else words.say("holes_unknown"),
    )
    yield (
        words.say("log_step"),
        words.say("log_step_text", step=words.span(log.step_s), known=words.span(log.uncertainty_s)),
    )
    understood, aside, blank = (
        sum(getattr(file, name) for file in log.files) for name in ("taken", "rejected", "blank")
    )
    rows = sum(file.rows for file in log.files)
    yield words.say("rows"), words.say("rows_text", rows=rows, understood=understood, aside=aside, blank=blank)
    if log.duplicates or log.reordered or log.overlap:
        yield (
            words.say("order"),
            words.say("order_text", twice=log.duplicates, moved=log.reordered, overlap=log.overlap),
        )
    yield (
        words.say("layout"),
        text(log.layout, words("with_profile", profile=log.profile) if log.profile else words("without_profile")),
    )
    days = f" ({', '.join(words(f'day_{day}') for day in shifts.days)})" if shifts.days else ""
    times = ", ".join(shifts.times) + days
    yield words.say("shifts"), text(f"{times}: " if shifts.times else "", words.english(shifts.how))


def _set_aside(log: Log, words: Words) -> Iterator[Block]:
    if log.rejected.is_empty():
        return
    reasons = log.rejected.group_by("reason").agg(count=pl.len(), first=pl.col("row").min()).sort("first", "reason")
    rows = tuple(
        ((words.english(reason),), text(str(count)), text(words.lines_of([first], log.files)))
        for reason, count, first in reasons.head(REASONS_SHOWN).select("reason", "count", "first").iter_rows()
    )
    heads = _heads(("reason", "rows", "first"), words)
    yield Table(words("set_aside_table"), heads, rows, (1,))
    yield from _rest(reasons.height - REASONS_SHOWN, words)


def _signals(review: Review, words: Words) -> Iterator[Block]:
    """Signals of which something is missing."""
    frozen = set(review.frozen)
    quality = review.signal_quality
    poor = quality.filter(
        (pl.col("missing_offs") > 0)
        | (pl.col("unknown_records") > 0)
        | (pl.col("unknown_share") >= LEAST_UNKNOWN)
        | pl.col("signal").cast(pl.String).is_in(list(frozen))
    ).sort("signal")
    if poor.is_empty():
        yield Paragraph(words.say("signals_whole"))
        return
    rows = tuple(
        (
            (code(str(signal)),),
            text(str(offs)),
            text(str(unknown)),
            text(words.percent(share)),
            words.say("yes" if signal in frozen else "no"),
        )
        for signal, offs, unknown, share in poor.select(
            "signal", "missing_offs", "unknown_records", "unknown_share"
        ).iter_rows()
    )
    heads = tuple(
        words.say(f"head_{name}") for name in ("signal", "missing_offs", "unknown_records", "unknown_share", "frozen")
    )
    yield Table(words("signals_table"), heads, rows, (1, 2, 3))
