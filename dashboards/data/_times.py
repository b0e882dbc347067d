"""Measured times week by week."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from dashboards.data._changes import drift, needs_person
from dashboards.series import TimeView
from eventlens.report.comparison import TIME
from eventlens.report.trends import DRIFT
from eventlens.report.words import figure
from eventlens.trends import Trends


def views(found: Trends, medians: pl.DataFrame, weeks: tuple[str, ...], machine: str) -> list[TimeView]:
    """Each measured time of a machine, in the order of tables.DRIFTS: what drifts first.

    medians: schema.WEEK_TIMES of any machines.
    """
    own = medians.filter(pl.col("machine") == machine)
    rows = found.times.filter(pl.col("machine") == machine).iter_rows(named=True)
    return [_view(row, own, weeks) for row in rows]


def _view(row: Mapping[str, Any], medians: pl.DataFrame, weeks: tuple[str, ...]) -> TimeView:
    here = (pl.col("motion").cast(pl.String) == row["motion"]) & (pl.col("time") == row["time"])
    part = medians.filter(here).sort("week")
    frame = part.select(
        "week",
        pl.Series("at", [float(weeks.index(week)) for week in part["week"]], pl.Float64),
        pl.col("median_s").alias("median"),
        "n",
        pl.col("step_s").alias("step"),
    )
    drifts = row["verdict"] in ("longer", "shorter")
    return TimeView(
        title=f"{row['motion']}: {TIME[row['time']]}",
        weeks=weeks,
        frame=frame,
        level=_lines(row, frame) if drifts else (),
        drifts=drifts,
        needs=needs_person(row),
        reading=_reading(row, drifts=drifts),
    )


def _lines(row: Mapping[str, Any], frame: pl.DataFrame) -> tuple[tuple[float, float, float, float], ...]:
    """The slope through the middle of the points, or the level before and after the change."""
    at = frame["at"].to_list()
    if row["shape"] == "slope":
        middle = float((frame["median"] - row["slope_s_per_week"] * frame["at"]).median())
        return ((at[0], middle + row["slope_s_per_week"] * at[0], at[-1], middle + row["slope_s_per_week"] * at[-1]),)
    change = frame.filter(pl.col("week") == row["change"])["at"][0]
    last = max(place for place in at if place < change)
    return ((at[0], row["before_s"], last, row["before_s"]), (change, row["after_s"], at[-1], row["after_s"]))


def _reading(row: Mapping[str, Any], *, drifts: bool) -> str:
    if drifts:
        said = drift(row)
        return f"{said[0].upper()}{said[1:]}."
    ends = f"{figure(row['first_s'])} s in the first week, {figure(row['last_s'])} s in the last"
    return f"{DRIFT[row['verdict']].capitalize()}: {ends} of {row['weeks']}."
