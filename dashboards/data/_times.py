"""Measured times week by week."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from dashboards import words
from dashboards.data._changes import drift, needs_person
from dashboards.series import TimeView, Work
from eventlens.report.comparison import TIME
from eventlens.report.trends import DRIFT, before_work
from eventlens.report.words import figure
from eventlens.trends import Trends


def views(
    found: Trends, medians: pl.DataFrame, weeks: tuple[str, ...], works: tuple[Work, ...], machine: str
) -> list[TimeView]:
    """Each measured time of a machine, in the order of tables.DRIFTS: what drifts first.

    medians: schema.WEEK_TIMES of any machines.
    """
    own = medians.filter(pl.col("machine") == machine)
    rows = found.times.filter(pl.col("machine") == machine).iter_rows(named=True)
    return [_view(row, own, weeks, works) for row in rows]


def _view(row: Mapping[str, Any], medians: pl.DataFrame, weeks: tuple[str, ...], works: tuple[Work, ...]) -> TimeView:
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
        level=(*(_lines(row, frame) if drifts else ()), *_until_work(row, frame)),
        drifts=drifts,
        needs=needs_person(row),
        works=works,
        reading=_reading(row, frame, drifts=drifts),
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


def _until_work(row: Mapping[str, Any], frame: pl.DataFrame) -> tuple[tuple[float, float, float, float], ...]:
    """The slope through the weeks before the latest work."""
    if before_work(row) is None:
        return ()
    weeks = frame["week"].to_list()
    first, last = weeks.index(row["work_first"]), max(n for n, week in enumerate(weeks) if week < row["work"])
    own = frame.slice(first, last - first + 1)
    slope = row["work_slope_s_per_week"]
    middle = float((own["median"] - slope * own["at"]).median())
    at = own["at"]
    return ((at[0], middle + slope * at[0], at[-1], middle + slope * at[-1]),)


def _reading(row: Mapping[str, Any], frame: pl.DataFrame, *, drifts: bool) -> str:
    """What it did over all weeks, and until the latest work."""
    said = before_work(row)
    return _over_all(row, frame, drifts=drifts) + (f" It {said}." if said else "")


def _over_all(row: Mapping[str, Any], frame: pl.DataFrame, *, drifts: bool) -> str:
    if drifts:
        said = drift(row)
        return f"{said[0].upper()}{said[1:]}."
    least, most = (figure(end) for end in (frame["median"].min(), frame["median"].max()))  # type: ignore[arg-type]
    if least == most:
        return f"{DRIFT[row['verdict']].capitalize()}; all medians are {least} s."
    last = f"{figure(row['last_s'])} s in the last of {words.counted(row['weeks'], 'week')}"
    return f"{DRIFT[row['verdict']].capitalize()}; medians lie between {least} and {most} s, {last}."
