"""The safe working period over the weeks: hours of full load of each, what is used, and when the rest is."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Final

import polars as pl

from dashboards.series import Ahead, LifeView
from eventlens.report.words import figure
from eventlens.trends import Trends

_WEEK_MS: Final = 7 * 86_400_000.0
SHOWN_AHEAD: Final = 1.6
"""How far the forecast is drawn, in times of the way to the forecast date: the interval is as wide as that, usually."""
FARTHEST_YEARS: Final = 60


def view(found: Trends, weeks: tuple[str, ...], machine: str) -> LifeView | None:
    """The life of a machine over the weeks; None where its group or its load spectrum is not known."""
    rows = found.life.filter(pl.col("machine") == machine)
    own = found.life_weeks.filter(pl.col("machine") == machine)
    if rows.is_empty() or own.is_empty():
        return None
    row = rows.row(0, named=True)
    frame = own.select(
        "week",
        pl.Series("at", [float(weeks.index(week)) for week in own["week"]], pl.Float64),
        pl.Series("end", [_end_of(week) for week in own["week"]], pl.Float64),
        "full_load_h",
        "used_h",
        "used_share",
        "little",
    )
    return LifeView(weeks, frame, row["duration_h"], row["h_per_week"], _ahead(row, frame), _weekly(row, frame))


def _ahead(row: dict[str, Any], frame: pl.DataFrame) -> Ahead | None:
    """The forecast as lines from the last week on; None where there is none, or nothing is left."""
    ends, low, high = row["ends"], row["h_per_week_low"], row["h_per_week_high"]
    if ends is None or row["used_share"] >= 1:
        return None
    start, used = float(frame["end"][-1]), float(row["used_share"])
    until = min(start + SHOWN_AHEAD * (_ms(ends) - start), start + FARTHEST_YEARS * 365.25 * 86_400_000.0)
    weeks = (until - start) / _WEEK_MS

    def at_end(rate: float | None) -> float | None:
        return None if rate is None else used + weeks * rate / row["duration_h"]

    limits = [None if row[name] is None else _ms(row[name]) for name in ("earliest", "latest")]
    middle = at_end(row["h_per_week"])
    assert middle is not None
    return Ahead(start, used, until, middle, at_end(low), at_end(high), _ms(ends), *limits)


def _weekly(row: dict[str, Any], frame: pl.DataFrame) -> str:
    """One sentence on the weeks."""
    said = f"{figure(float(frame['full_load_h'].sum()))} h of full load in {frame.height} weeks with log"
    if row["h_per_week"] is not None:
        limits = ""
        if row["h_per_week_low"] is not None and row["h_per_week_high"] is not None:
            limits = f" (95 % limits {figure(row['h_per_week_low'])} to {figure(row['h_per_week_high'])})"
        said += f": {figure(row['h_per_week'])} h in a week{limits}"
    return f"{said}. Weeks that nobody logged are not in it, so that at least this much is used."


def _end_of(week: str) -> float:
    year, number = week.split("-W")
    monday = date.fromisocalendar(int(year), int(number), 1)
    return (monday - date(1970, 1, 1)).days * 86_400_000.0 + _WEEK_MS


def _ms(instant: datetime) -> float:
    return instant.timestamp() * 1000.0
