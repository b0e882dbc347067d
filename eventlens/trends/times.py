"""Measured times over the weeks: whether the weekly medians drift, and when their level changed.

All times of all machines are adjusted together. A change counts where it is at least a log step: smaller ones are not
seen.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import polars as pl

from eventlens import schema
from eventlens.statistics.discovery import adjusted
from eventlens.statistics.drift import drift
from eventlens.trends import tables


def time_trends(times: pl.DataFrame, level: float) -> tuple[pl.DataFrame, int]:
    """tables.DRIFTS from schema.WEEK_TIMES, and how many comparisons were made."""
    parts = times.sort(*schema.WEEK_TIMES.sort).group_by("machine", "motion", "time", maintain_order=True)
    rows = [_row(part, level) for _, part in parts]
    made = [row for row in rows if row["p"] is not None]
    for row, value in zip(made, adjusted([row["p"] for row in made]), strict=True):
        row["p_adjusted"] = value
        by = _size(row)
        if value <= 1 - level and abs(by) >= row["step_s"]:
            row["verdict"] = "longer" if by > 0 else "shorter"
    frame = pl.DataFrame(rows, schema={**tables.DRIFTS.schema, "step_s": pl.Float64, "span": pl.Float64})
    frame = frame.drop("step_s", "span").sort(*tables.DRIFTS.sort, maintain_order=True)
    return tables.DRIFTS.check(frame), len(made)


def _row(part: pl.DataFrame, level: float) -> dict[str, Any]:
    weeks, medians = part["week"].to_list(), part["median_s"].to_list()
    at = [number_of(week) for week in weeks]
    row: dict[str, Any] = {
        **{name: part[name][0] for name in ("machine", "motion", "time")},
        "weeks": part.height,
        "first_s": medians[0],
        "last_s": medians[-1],
        "verdict": "too_little",
        "p": None,
        "step_s": part["step_s"].max(),
        "span": float(at[-1] - at[0]),
    }
    found = drift(at, medians, level, step=row["step_s"])
    if found is None:
        return row
    return row | {
        "slope_s_per_week": found.slope,
        "slope_low": found.low,
        "slope_high": found.high,
        "p_slope": found.p_slope,
        "change": weeks[found.change.at],
        "change_first": weeks[found.change.first],
        "change_last": weeks[found.change.last],
        "before_s": found.change.before,
        "after_s": found.change.after,
        "p_change": found.change.p,
        "p": found.p,
        "shape": found.shape,
        "verdict": "not_shown",
    }


def _size(row: dict[str, Any]) -> float:
    """By how much the time has moved over the weeks [s]."""
    if row["shape"] == "slope":
        return float(row["slope_s_per_week"] * row["span"])
    return float(row["after_s"] - row["before_s"])


def number_of(week: str) -> int:
    """A number for an ISO week as 2026-W16 that grows by one from week to week."""
    year, number = week.split("-W")
    return date.fromisocalendar(int(year), int(number), 1).toordinal() // 7
