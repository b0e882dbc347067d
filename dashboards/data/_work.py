"""The kinds of work of a machine over the weeks."""

from __future__ import annotations

from typing import Any

import polars as pl

from dashboards.series import Work, WorkKind, WorkOverWeeks, WorkView
from eventlens.report.work_trends import ONE_SET, VERDICT, limits_of, reading
from eventlens.trends import WorkTrends


def over_weeks(
    found: WorkTrends, weeks: tuple[str, ...], recent: tuple[int, int], works: tuple[Work, ...], level: float
) -> WorkOverWeeks:
    """What the page of one machine shows; subjects of one kind have no chart."""
    views = [
        _view(part, found.weekly, weeks, recent, works)
        for _, part in found.kinds.group_by("subject", maintain_order=True)
        if part.height > 1
    ]
    rows = [_row(row, level) for row in found.kinds.iter_rows(named=True)]
    return WorkOverWeeks(tuple(views), tuple(rows), reading(found.kinds, level), (ONE_SET, *found.notes))


def _view(
    kinds: pl.DataFrame, weekly: pl.DataFrame, weeks: tuple[str, ...], recent: tuple[int, int], works: tuple[Work, ...]
) -> WorkView:
    subject = kinds["subject"][0]
    own = weekly.filter(pl.col("subject") == subject).sort("kind", "week")
    place = {week: float(at) for at, week in enumerate(weeks)}
    frame = own.select(
        "week",
        pl.col("week").replace_strict(place, return_dtype=pl.Float64).alias("at"),
        "kind", "count", "whole", "share", "low", "high", "few",
    )  # fmt: skip
    numbered = tuple(WorkKind(kind, words) for kind, words in kinds.sort("kind").select("kind", "words").iter_rows())
    return WorkView(f"{subject[0].upper()}{subject[1:]}", weeks, frame, numbered, recent, works)


def _row(row: dict[str, Any], level: float) -> dict[str, Any]:
    sides = {side: row[f"{side}_whole"] for side in ("past", "recent")}
    return {
        "key": f"{row['subject']} {row['kind']}",
        "subject": row["subject"],
        "kind": row["kind"],
        "words": row["words"],
        "share": row["share"],
        **{side: row[f"{side}_count"] / whole if whole else None for side, whole in sides.items()},
        "change": "" if row["change"] is None else limits_of(row, level),
        "verdict": VERDICT[row["verdict"]],
    }
