"""Trends from weekly results, wherever they were kept, or from reviews."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import polars as pl

from eventlens import cautions, schema
from eventlens.errors import EventlensError
from eventlens.result import Review
from eventlens.statistics.charts import FALSE_ALARM
from eventlens.statistics.rates import LEVEL
from eventlens.trends import life
from eventlens.trends.fleet import fleet, funnels
from eventlens.trends.rates import LEAST_WEEKS, RECENT, rate_trends
from eventlens.trends.result import Trends
from eventlens.trends.times import NONE, Works, number_of, time_trends
from eventlens.trends.weeks import Weeks, gather, weeks_of

CAUTIONS: Final = (
    "A trend says that something has changed, not what: other work, another crew or a cold season change counts too.",
    "A machine without a trend is not a machine in order: what was there from the first week shows none.",
)


def trends(reviews: Iterable[Review], *, confidence: float = LEVEL) -> Trends:
    """Trends from reviews of any machines and any stretches that do not overlap; see `trends_of`.

    Machines are told apart by the id of their machine file.
    """
    return trends_of(gather(weeks_of(review) for review in reviews), confidence=confidence)


def trends_of(weeks: Weeks, *, confidence: float = LEVEL, works: Works = NONE) -> Trends:
    """Trends of all machines of the weeks, and the machines side by side.

    works: by machine the ISO weeks of repairs and exchanges; measured times are also looked at up to the latest.
    confidence: two-sided, in (0, 1). EventlensError for another, or where there is no week at all.
    """
    if not 0 < confidence < 1:
        raise EventlensError("a confidence between 0 and 1", str(confidence), "give a share such as 0.95")
    counts, times = schema.WEEKS.check(weeks.counts), schema.WEEK_TIMES.check(weeks.times)
    if counts.is_empty():
        raise EventlensError("at least one week of log", "none", "add a log first")
    names = sorted(counts["week"].unique())
    machines = sorted(counts["machine"].unique())
    recent = names[-RECENT:]
    rates, weekly, made = rate_trends(counts, confidence)
    drifts, times_made = time_trends(times, confidence, works)
    side_by_side = funnels(rates, counts.filter(pl.col("week").is_in(recent)), confidence)
    days = schema.WEEK_LIFE.check(weeks.life)
    by_week = life.life_weeks(days)
    lives = life.life_of(days, by_week)
    return Trends(
        machines=tuple(machines),
        weeks=tuple(names),
        recent=tuple(recent),
        confidence=confidence,
        false_alarm=FALSE_ALARM,
        rates=rates,
        weekly=weekly,
        comparisons=made,
        times=drifts,
        times_compared=times_made,
        funnel=side_by_side,
        fleet=fleet(machines, rates, side_by_side, lives),
        life=lives,
        life_weeks=by_week,
        worked=schema.WEEK_WORK.check(weeks.work),
        notes=(*_notes(counts, names), *life.notes(days, machines)),
        cautions=(*CAUTIONS, *cautions.GENERAL),
    )


def _notes(counts: pl.DataFrame, names: list[str]) -> Iterator[str]:
    """What limits the answer."""
    missing = number_of(names[-1]) - number_of(names[0]) + 1 - len(names)
    if missing:
        yield f"{missing} weeks between the first and the last are in no log of any machine"
    short = [
        machine
        for (machine,), part in counts.group_by("machine", maintain_order=True)
        if part["week"].n_unique() < LEAST_WEEKS
    ]
    if short:
        yield f"no trend is judged with fewer than {LEAST_WEEKS} weeks: {', '.join(map(str, short))}"
