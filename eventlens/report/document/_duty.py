"""Work and duty: counts of every motion, how its runs ended, the measured times, and the limits of its motor."""

from __future__ import annotations

from typing import Final

from eventlens.duty.counts import Spread
from eventlens.duty.groups import GroupLimits
from eventlens.duty.lifts import Lifts, TripRates
from eventlens.report.document._front import place
from eventlens.report.document.language import Words, text
from eventlens.report.document.model import Block, Facts, Inline, Paragraph, Section, Span, Table
from eventlens.report.words import Clock
from eventlens.result import Review

TIMES: Final = ("release_time_s", "apply_time_s", "speed_change_delay_s")


def duty(review: Review, words: Words, clock: Clock) -> Section:
    """What every motion did."""
    if not review.motions:
        return Section("duty", words("duty"), (Paragraph(words.say("no_motion")),))
    blocks: list[Block] = [_counts(review, words), _against_limits(review, words, clock)]
    endings = _endings(review, words)
    blocks += [endings] if endings.rows else [Paragraph(words.say("no_runs"))]
    times = _times(review, words)
    blocks += [times] if times.rows else [Paragraph(words.say("no_times"))]
    hoist = review.motions.get("hoist")
    if hoist and (hoist.lifts or hoist.trips):
        blocks.append(Facts(_lifting(hoist.lifts, hoist.trips, words)))
        blocks += [_loads(hoist.lifts, words)] if hoist.lifts and hoist.lifts.classes else []
    return Section("duty", words("duty"), tuple(blocks))


def _counts(review: Review, words: Words) -> Table:
    heads = ("motion", "runs", "starts", "jogs", "reversals", "running", "share", "fast")
    rows = []
    for motion, counts in review.motions.items():
        share = words.percent(counts.running_s / review.log.observed_s) if review.log.observed_s else "-"
        fast = words.span(counts.fast_s) if counts.fast_s is not None else words("not_logged")
        numbers = (counts.runs, counts.starts, counts.jogs, counts.reversals)
        cells = [place(motion, words), *map(str, numbers), words.span(counts.running_s), share, fast]
        rows.append(tuple(text(cell) for cell in cells))
    return Table(words("counts"), _heads(heads, words), tuple(rows), tuple(range(1, 8)))


def _heads(names: tuple[str, ...], words: Words) -> tuple[Inline, ...]:
    return tuple(words.say(f"head_{name}") for name in names)


def _against_limits(review: Review, words: Words, clock: Clock) -> Table:
    """Busiest hour and cyclic duration beside their limits, each with its source."""
    rows: list[tuple[Inline, ...]] = []
    for motion, counts in review.motions.items():
        limits = counts.limits
        if most := counts.starts_per_hour_max:
            limit = str(limits.starts_per_hour) if limits else words("none_known")
            over = bool(limits and most.value > limits.starts_per_hour)
            rows.append(
                _row(motion, words("starts_in_hour"), f"{most.value:.0f}", limit, over, limits, clock(most.at), words)
            )
        peak = counts.limit_window_max if limits else counts.cyclic_duration_max
        if peak:
            window = (limits.window_s if limits else 600.0) / 60
            limit = words.percent(limits.cyclic_duration) if limits else words("none_known")
            over = bool(limits and peak.value > limits.cyclic_duration)
            what = words("cyclic_duration", minutes=f"{window:g}")
            rows.append(_row(motion, what, words.percent(peak.value), limit, over, limits, clock(peak.at), words))
    heads = ("motion", "quantity", "highest", "limit", "verdict", "until", "source")
    return Table(words("against_limits"), _heads(heads, words), tuple(rows), (2, 3), (9, 23, 9, 9, 9, 14, 27))


def _row(
    motion: str, what: str, value: str, limit: str, over: bool, limits: GroupLimits | None, at: str, words: Words
) -> tuple[Inline, ...]:
    verdict = words("above" if over else "within") if limits else "-"
    source = source_of(limits.source, limits.confidence, words) if limits else words.say("no_group")
    return (
        text(place(motion, words)),
        text(what),
        text(value),
        text(limit),
        (Span(verdict, "", "strong" if over else ""),),
        text(at),
        source,
    )


def source_of(source: str, confidence: str, words: Words) -> Inline:
    """Where a figure comes from, and how sure it is."""
    return text(words.english(source), f" ({words('confidence_' + confidence.replace(' ', '_'))})")


def _endings(review: Review, words: Words) -> Table:
    """How the runs ended: a line for each ending that occurred, a column for each motion."""
    motions = {motion: counts for motion, counts in review.motions.items() if counts.runs}
    names = [
        name for name in next(iter(review.motions.values())).endings if any(c.endings[name] for c in motions.values())
    ]
    rows = tuple(
        (words.say(f"ending_{name}"), *(text(str(c.endings[name])) for c in motions.values())) for name in names
    )
    heads = (words.say("head_ending"), *(text(place(motion, words)) for motion in motions))
    return Table(words("endings"), heads, rows, tuple(range(1, len(heads))))


def _times(review: Review, words: Words) -> Table:
    rows = []
    for motion, counts in review.motions.items():
        for name in TIMES:
            spread: Spread | None = getattr(counts, name)
            if spread:
                figures = [f"{value:.2f} s".replace(".", words("decimal")) for value in (spread.median, spread.p95)]
                rows.append(tuple(map(text, (place(motion, words), words(f"time_{name}"), *figures, str(spread.n)))))
    return Table(
        words("times_measured"), _heads(("motion", "quantity", "median", "p95", "runs"), words), tuple(rows), (2, 3, 4)
    )


def _loads(lifts: Lifts, words: Words) -> Table:
    """How many lifts lie in each class of load."""
    rows = tuple(
        (
            text(words("load_class", above=f"{100 * one.above:g}", upto=f"{100 * one.upto:g}"))
            if one.upto
            else words.say("load_above", above=f"{100 * one.above:g}"),
            text(str(one.lifts)),
            text(words.percent(one.lifts / lifts.lifts) if lifts.lifts else "-"),
        )
        for one in lifts.classes
    )
    return Table(words("loads"), _heads(("load", "lifts", "of_lifts"), words), rows, (1, 2))


def _lifting(lifts: Lifts | None, trips: TripRates | None, words: Words) -> tuple[tuple[Inline, Inline], ...]:
    pairs: list[tuple[Inline, Inline]] = []
    if lifts:
        parts = [words("lifts_n", lifts=lifts.lifts, cycles=lifts.cycles)]
        parts += [words("lifts_near", near=lifts.near_rated, above=lifts.above_rated)] if lifts.classes else []
        parts += [words("lifts_unknown", n=lifts.unknown)] if lifts.unknown else []
        pairs.append((words.say("lifts"), text("; ".join(parts), " (", words.english(lifts.assumes), ")")))
    if trips:
        each = (
            ("per_100_lifts", trips.per_100_lifts),
            ("per_running", trips.per_running_h),
            ("per_observed", trips.per_observed_h),
        )
        rates = [
            words(
                key, rate=words("rate", value=words.number(r.value), low=words.number(r.low), high=words.number(r.high))
            )
            for key, r in each
            if r
        ]
        pairs.append((words.say("trips"), text(f"{trips.trips}" + (f": {'; '.join(rates)}" if rates else ""))))
    return tuple(pairs)
