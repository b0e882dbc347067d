"""The kinds of work of a machine over the weeks: whether the share of each has moved.

Kinds are found once, in the runs and work cycles of all weeks together (duty.kinds), and those of each week are
assigned to them: kinds found week by week could not be held against each other. What some weeks do not log (load, fast)
tells no kinds apart in any.

Work comes in jobs, so that the runs of a day are alike: shares vary between weeks by more than single runs would.
Between the days of a week the variance of the count of a kind is held against that of independent runs (the ratio
estimate of cluster sampling: Cochran, Sampling Techniques, chapter 6: from memory); limits are as wide as so many fewer
runs make them, those of the last weeks against the weeks before as wide as these weeks differ, where that is more. Two
tests for each kind, chosen beforehand: whether its share differs between weeks, and the last weeks against those
before; the smaller p-value counts for two, and the kinds of a machine are adjusted together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import polars as pl

from eventlens import schema
from eventlens.duty.kinds import LEAST, Kinds, kinds_in
from eventlens.statistics.discovery import adjusted
from eventlens.statistics.shares import difference, unequal, wilson
from eventlens.trends import tables

LEAST_WEEKS: Final = 4
"""Weeks with enough work below which nothing is judged, as for rates (common practice, no source)."""
FEW: Final = 30
"""Runs or cycles below which a week's share is not judged (common practice, no source)."""
LEAST_DAYS: Final = 4
"""Days beyond the first of their week that it takes to know how days differ (common practice, no source)."""
LEAST_CHANGE: Final = 0.05
"""A share that moved by less is not called a change (judgement: it explains no other number of findings)."""
HIDDEN: Final = {"load": "the load", "fast": "fast"}
"""What weeks may lack, in words."""


@dataclass(frozen=True)
class WorkTrends:
    """The kinds of work of one machine, or of several, over the weeks."""

    kinds: pl.DataFrame
    """tables.WORK_KINDS."""
    weekly: pl.DataFrame
    """tables.WORK_WEEKS."""
    notes: tuple[str, ...]
    """Of what there is too little, and what weeks lack; one sentence each."""


def work_trends(work: pl.DataFrame, recent: Sequence[str], level: float) -> WorkTrends:
    """The kinds of each machine in schema.WEEK_WORK; recent: the last weeks; level: two-sided, in (0, 1)."""
    parts = [
        _of_machine(machine, own, recent, level)
        for (machine,), own in work.sort(*schema.WEEK_WORK.sort).group_by("machine", maintain_order=True)
    ]
    kinds = pl.concat([tables.WORK_KINDS.empty(), *(part.kinds for part in parts)])
    weekly = pl.concat([tables.WORK_WEEKS.empty(), *(part.weekly for part in parts)])
    notes = tuple(note for part in parts for note in part.notes)
    return WorkTrends(tables.WORK_KINDS.check(kinds), tables.WORK_WEEKS.check(weekly), notes)


def _of_machine(machine: Any, work: pl.DataFrame, recent: Sequence[str], level: float) -> WorkTrends:
    rows, weekly, notes = list[dict[str, Any]](), [tables.WORK_WEEKS.empty()], list[str]()
    for (subject,), items in work.group_by("subject", maintain_order=True):
        least, there = LEAST["cycles" if subject == "work cycles" else "runs"], int(items["count"].sum())
        if there < least:
            notes.append(f"{machine}: {subject}: {there} in all weeks, kinds need {least}")
            continue
        bare, lacking = _alike(items)
        notes += [f"{machine}: {subject}: {text}" for text in lacking]
        found = kinds_in(str(subject), bare)
        counted = _by_week(bare.with_columns(kind=pl.Series(found.labels, dtype=pl.Int64)), found.table.height)
        subject_rows, few = _judged(found, counted, recent, level)
        rows += [{"machine": machine} | row for row in subject_rows]
        notes += [f"{machine}: {subject}: {text}" for text in few]
        weekly.append(_weekly(counted, subject_rows, level, machine=machine, subject=subject))
    tested = [row for row in rows if row["p"] is not None]
    for row, value in zip(tested, adjusted([row["p"] for row in tested]), strict=True):
        row["p_adjusted"] = value
        row["verdict"] = _verdict(row, level)
    frame = pl.DataFrame([{n: row[n] for n in tables.WORK_KINDS.columns} for row in rows], tables.WORK_KINDS.schema)
    return WorkTrends(frame, pl.concat(weekly), tuple(notes))


def _alike(items: pl.DataFrame) -> tuple[pl.DataFrame, list[str]]:
    """The items without what some weeks do not log, and a sentence on each such thing."""
    said = []
    for name, text in HIDDEN.items():
        by_week = items.group_by("week", maintain_order=True).agg(there=pl.col(name).is_not_null().any())
        without = by_week.filter(~pl.col("there"))["week"].to_list()
        mixed = name == "load" and items["load_unit"].drop_nulls().n_unique() > 1
        if mixed or 0 < len(without) < by_week.height:
            why = "is in shares of the rated load and in kg" if mixed else f"is not logged in {', '.join(without)}"
            said.append(f"{text} {why}: it tells no kinds apart, so that all weeks can be compared")
            items = items.with_columns(pl.lit(None, items.schema[name]).alias(name))
    if items["load"].null_count() == items.height:
        items = items.with_columns(load_unit=pl.lit(None, pl.String))
    return items, said


def _by_week(items: pl.DataFrame, kinds: int) -> pl.DataFrame:
    """(week, day, whole, kind_0, kind_1, ...): how many of each day are of each kind."""
    return (
        items.group_by("week", "day", maintain_order=True)
        .agg(
            pl.col("count").sum().alias("whole"),
            *(pl.col("count").filter(pl.col("kind") == n).sum().alias(f"kind_{n}") for n in range(kinds)),
        )
        .sort("week", "day")
    )


def _judged(
    found: Kinds, counted: pl.DataFrame, recent: Sequence[str], level: float
) -> tuple[list[dict[str, Any]], list[str]]:
    """tables.WORK_KINDS of one subject but for what depends on the others, and what limits them."""
    late = pl.col("week").is_in(list(recent))
    enough = counted.filter(pl.col("whole").sum().over("week") >= FEW).with_columns(late=late)
    few = sorted(set(counted["week"]) - set(enough["week"]))
    weeks, spare = enough["week"].n_unique(), enough.height - enough["week"].n_unique()
    said = [f"fewer than {FEW} in {', '.join(few)}: not judged"] if few else []
    judged = weeks >= LEAST_WEEKS and spare >= LEAST_DAYS and found.table.height > 1
    if found.table.height > 1 and not judged:
        short = f"{weeks} weeks with at least {FEW}, on {spare} days beyond the first of their week"
        said.append(f"{short}: a change of kinds takes {LEAST_WEEKS} and {LEAST_DAYS}")
    sides = [enough.filter(~pl.col("late")), enough.filter("late")]
    rows = []
    for n, kind in enumerate(found.table.iter_rows(named=True)):
        own, whole = f"kind_{n}", "whole"
        row = {name: kind[name] for name in ("subject", "count", "share", "words")} | {"kind": n + 1}
        row |= dict.fromkeys(("change", "change_low", "change_high", "p", "p_adjusted"))
        row |= {"weeks": weeks, "spread": _spread(enough, own, "week") if spare else None, "verdict": "too_little"}
        counts = [(int(side[own].sum()), int(side[whole].sum())) for side in sides]
        row |= {"past_count": counts[0][0], "past_whole": counts[0][1]}
        row |= {"recent_count": counts[1][0], "recent_whole": counts[1][1]}
        row |= {"range": _range(enough, own), "days": spare}
        if judged:
            row |= _tested(enough, own, counts, row["spread"], spare, level)
        rows.append(row)
    return rows, said


def _spread(parts: pl.DataFrame, own: str, of: str) -> float:
    """Variance of the count of a kind over that of independent runs, 1 or more, from the parts (of: a column) alike."""
    share = pl.col(own).sum().over(of) / pl.col("whole").sum().over(of)
    number = pl.len().over(of)
    held = parts.filter(number > 1).with_columns(share=share, number=number)
    squares = (pl.col(own) - pl.col("share") * pl.col("whole")).pow(2) * pl.col("number") / (pl.col("number") - 1)
    single = pl.col("whole") * pl.col("share") * (1 - pl.col("share"))
    variance, plain = held.select(squares.sum().alias("variance"), single.sum().alias("plain")).row(0)
    return max(1.0, variance / plain) if plain else 1.0


def _range(days: pl.DataFrame, own: str) -> float:
    """Highest less lowest share of a week."""
    shares = days.group_by("week").agg(share=pl.col(own).sum() / pl.col("whole").sum())["share"]
    return float(shares.max()) - float(shares.min()) if len(shares) else 0.0  # type: ignore[arg-type]


def _tested(
    days: pl.DataFrame, own: str, counts: list[tuple[int, int]], spread: float, spare: int, level: float
) -> dict[str, Any]:
    """Both tests, and the last weeks less those before: of these, weeks that differ among themselves show less."""
    weekly = days.group_by("week", "late", maintain_order=True).agg(pl.col(own).sum(), pl.col("whole").sum())
    p_weeks = unequal(weekly[own].to_numpy(), weekly["whole"].to_numpy(), spread, spare)
    found: dict[str, Any] = {"p_sides": 1.0}
    if counts[0][1] and counts[1][1]:
        by_weeks = _spread(weekly, own, "late")
        wide, free = (by_weeks, weekly.height - 2) if by_weeks > spread else (spread, spare)
        moved = difference(*counts[0], *counts[1], wide, free, level)
        found = {"change": moved.value, "change_low": moved.low, "change_high": moved.high, "p_sides": moved.p}
    return found | {"p": min(1.0, 2 * min(p_weeks, found["p_sides"])), "verdict": "not_shown"}


def _verdict(row: dict[str, Any], level: float) -> str:
    """What the weeks show of a kind."""
    if row["p_adjusted"] > 1 - level:
        return "not_shown"
    shown = row["change"] is not None and abs(row["change"]) >= LEAST_CHANGE and 2 * row["p_sides"] <= 1 - level
    if shown:
        return "more" if row["change"] > 0 else "less"
    return "uneven" if row["range"] >= LEAST_CHANGE else "not_shown"


def _weekly(counted: pl.DataFrame, rows: list[dict[str, Any]], level: float, **said: Any) -> pl.DataFrame:
    """tables.WORK_WEEKS of one subject."""
    weeks = counted.group_by("week", maintain_order=True).agg(pl.exclude("day").sum())
    parts = []
    for n, row in enumerate(rows):
        own, whole = weeks[f"kind_{n}"].to_numpy(), weeks["whole"].to_numpy()
        low, high = wilson(own, whole, row["spread"] or 1.0, max(row["days"], 1), level)
        part = weeks.select("week", pl.col(f"kind_{n}").alias("count"), "whole").with_columns(
            share=pl.Series(own / np.maximum(whole, 1)), low=pl.Series(low), high=pl.Series(high),
            few=pl.col("whole") < FEW, kind=pl.lit(row["kind"]), **{name: pl.lit(text) for name, text in said.items()},
        )  # fmt: skip
        parts.append(part.select(pl.col(name).cast(column.dtype) for name, column in tables.WORK_WEEKS.columns.items()))
    return pl.concat([tables.WORK_WEEKS.empty(), *parts])
