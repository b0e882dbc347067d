"""Measured times over the weeks: whether the weekly medians drift, and when their level changed.

A part that wears and is renewed makes a saw-tooth, in which neither a slope nor one change of level stands out: so the
weeks before the latest work that people wrote down are also looked at by themselves, for a slope.

All times of all machines are adjusted together. A change counts where it is at least a log step: smaller ones are not
seen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import polars as pl

from eventlens import schema
from eventlens.statistics.discovery import adjusted
from eventlens.statistics.drift import LEAST, drift, robust_slope
from eventlens.trends import tables

Works = Mapping[str, Sequence[str]]
"""By machine the ISO weeks of repairs and exchanges that people wrote down."""
NONE: Final[Works] = MappingProxyType({})


def time_trends(times: pl.DataFrame, level: float, works: Works = NONE) -> tuple[pl.DataFrame, int]:
    """tables.DRIFTS from schema.WEEK_TIMES, and how many comparisons were made."""
    parts = times.sort(*schema.WEEK_TIMES.sort).group_by("machine", "motion", "time", maintain_order=True)
    rows = [{**_row(part, level), **_before_work(part, level, works)} for _, part in parts]
    made = [(row, name) for row in rows for name in ("p", "work_p") if row.get(name) is not None]
    for (row, name), value in zip(made, adjusted([row[name] for row, name in made]), strict=True):
        row[f"{name}_adjusted"] = value
        by = _size(row) if name == "p" else row["work_slope_s_per_week"] * row["work_span"]
        if value <= 1 - level and abs(by) >= row["step_s"]:
            row["verdict" if name == "p" else "work_verdict"] = "longer" if by > 0 else "shorter"
    more = {"step_s": pl.Float64, "span": pl.Float64, "work_span": pl.Float64}
    frame = pl.DataFrame(rows, schema={**tables.DRIFTS.schema, **more}).drop(*more)
    return tables.DRIFTS.check(frame.sort(*tables.DRIFTS.sort, maintain_order=True)), len(made)


def _before_work(part: pl.DataFrame, level: float, works: Works) -> dict[str, Any]:
    """The weeks between the work before it and the latest work that LEAST of them lie before; nothing: there is none.

    The week of a work itself is on neither side.
    """
    done = sorted(set(works.get(part["machine"][0], ())))
    for n in reversed(range(len(done))):
        within = pl.col("week") < done[n]
        own = part.filter(within & (pl.col("week") > done[n - 1]) if n else within)
        if own.height < LEAST:
            continue
        at = np.array([number_of(week) for week in own["week"]], float)
        medians = own["median_s"].to_numpy()
        found = robust_slope(at, medians, level)
        return {
            "work": done[n],
            "work_first": own["week"][0],
            "work_first_s": float(medians[0]),
            "work_last_s": float(medians[-1]),
            "work_slope_s_per_week": found.slope,
            "work_slope_low": found.low,
            "work_slope_high": found.high,
            "work_p": found.p,
            "work_span": float(at[-1] - at[0]),
            "work_verdict": "not_shown",
        }
    return {}


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
