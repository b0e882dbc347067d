"""The rate of a pattern week by week."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import polars as pl

from dashboards import words
from dashboards.data._names import key_of, parts_of, series_name
from dashboards.series import Scale, WeeklyView
from eventlens import patterns
from eventlens.report.trends import ONE, VERDICT
from eventlens.report.words import figure
from eventlens.trends import Trends

_OF_BASE: Final = {
    "observed_h": ("observed_h", 1.0),
    "running_h": ("running_h", 1.0),
    "lifts": ("lift", 100.0),
}
"""Base of a weekly rate: the exposure that it is, and per how many of it the table gives it."""


def counted_in(count: int, amount: float, exposure: str) -> str:
    """So many in so much use."""
    use = f"{amount:,.0f}" if amount >= 100 or float(amount).is_integer() else figure(amount)
    return f"{f'{count:,}' if count else 'none'} in {use} {patterns.EXPOSURES[exposure]}"


def scale_for(largest: float, exposure: str) -> Scale:
    """A round number of use that makes the largest rate at least one; a hundred at least where use is counted."""
    least = 1 if exposure.endswith("_h") else 100
    per = next((per for per in (1, 10, 100, 1000) if per >= least and largest * per >= 1), 10_000)
    one, many = ONE[exposure], patterns.EXPOSURES[exposure]
    return Scale(float(per), f"per {one}" if per == 1 else f"per {per:,} {many}")


def rows(found: Trends, machine: str) -> list[dict[str, Any]]:
    """A row for each pattern of the machine."""
    return [
        {
            "key": key_of(row),
            "level": row["severity"] if row["recent_count"] else "calm",
            "severity": words.asked(row["severity"]) if row["recent_count"] else words.asked(None),
            "name": series_name(row),
            "verdict": VERDICT[row["verdict"]].lower(),
            "recent": counted_in(row["recent_count"], row["recent_amount"], row["exposure"]),
            "past": counted_in(row["past_count"], row["past_amount"], row["exposure"]),
            "ratio": row["ratio"],
            "ratio_text": ratio(row),
            "beyond": ", ".join(row["beyond"]),
        }
        for row in found.rates.filter(pl.col("machine") == machine).iter_rows(named=True)
    ]


def ratio(row: Mapping[str, Any]) -> str:
    """The rate of the last weeks over that before, with its limits."""
    if row["ratio_low"] is None:
        return "–"
    high = f"to {figure(row['ratio_high'])}" if row["ratio_high"] is not None else "upwards"
    limits = f"{figure(row['ratio_low'])} {high}"
    return f"new ({limits})" if row["ratio"] is None else f"{figure(row['ratio'])} × ({limits})"


def bases(found: Trends, machine: str, key: str, names: Mapping[str, str]) -> dict[str, str]:
    """What the rate can be given against."""
    row, weekly = _row(found, machine, key), _weekly(found, machine, key)
    known = {name: text for name, text in names.items() if name == "own" or weekly[f"{name}_rate"].drop_nulls().len()}
    return {name: ONE[row["exposure"]] if name == "own" else text for name, text in known.items()}


def view(found: Trends, weeks: tuple[str, ...], machine: str, key: str, base: str) -> WeeklyView:
    """The weeks of a pattern of a machine; KeyError where it has shown none such."""
    row, weekly = _row(found, machine, key), _weekly(found, machine, key)
    own = base == "own"
    exposure, given_per = (row["exposure"], 1.0) if own else _OF_BASE[base]
    prefix = "" if own else f"{base}_"
    names = ("rate", "rate_low", "rate_high") if own else tuple(prefix + name for name in ("rate", "low", "high"))
    largest = max((value for value in weekly[names[0]].drop_nulls()), default=0.0) / given_per
    scale = scale_for(largest, exposure)
    factor = scale.per / given_per
    off_chart = pl.lit(None, pl.Float64)
    frame = weekly.select(
        "week",
        pl.Series("at", [float(weeks.index(week)) for week in weekly["week"]], pl.Float64),
        "count",
        "amount",
        *((pl.col(name) * factor).alias(short) for name, short in zip(names, ("rate", "low", "high"), strict=True)),
        *((pl.col(name) * factor if own else off_chart).alias(name) for name in ("chart_low", "chart_high")),
        _kind().alias("kind"),
    ).sort("at")
    recent = [weeks.index(week) for week in found.recent]
    return WeeklyView(
        title=series_name(row),
        weeks=weeks,
        frame=frame,
        mean=row["rate"] * factor if own and row["rate"] is not None else None,
        recent=(recent[0], recent[-1]),
        scale=scale,
        reading=_reading(row, frame, found),
    )


def _kind() -> pl.Expr:
    return (
        pl.when(~pl.col("judged"))
        .then(pl.lit("apart"))
        .when(pl.col("beyond") > 0)
        .then(pl.lit("above"))
        .when(pl.col("beyond") < 0)
        .then(pl.lit("below"))
        .when("little")
        .then(pl.lit("little"))
        .otherwise(pl.lit("usual"))
    )


def _row(found: Trends, machine: str, key: str) -> dict[str, Any]:
    rows = found.rates.filter((pl.col("machine") == machine) & _is(key))
    if rows.is_empty():
        raise KeyError(key)
    return rows.row(0, named=True)


def _weekly(found: Trends, machine: str, key: str) -> pl.DataFrame:
    return found.weekly.filter((pl.col("machine") == machine) & _is(key))


def _is(key: str) -> pl.Expr:
    pattern, motion = parts_of(key)
    same = pl.col("motion").is_null() if motion is None else pl.col("motion").cast(pl.String) == motion
    return (pl.col("pattern") == pattern) & same


def _reading(row: Mapping[str, Any], frame: pl.DataFrame, found: Trends) -> str:
    """One sentence: what the weeks show."""
    said = counted_in(row["count"], row["amount"], row["exposure"])
    total = f"{VERDICT[row['verdict']]}: {said} over {words.counted(row['weeks'], 'week')}"
    beyond = int(frame["kind"].is_in(["above", "below"]).sum())
    weeks = words.counted(beyond, "week lies", "weeks lie")
    limits = f"; {weeks} beyond the limits of the chart" if beyond else "; no week lies beyond the limits of the chart"
    little = int((frame["kind"] == "little").sum())
    thin = f"; {words.counted(little, 'week')} with so little use that it could show next to nothing" if little else ""
    now = (
        f"; in the last {words.counted(len(found.recent), 'week')} {_now(row)}" if row["ratio_low"] is not None else ""
    )
    return f"{total}{limits}{thin}{now}."


def _now(row: Mapping[str, Any]) -> str:
    if row["ratio"] is None:
        return "it came for the first time"
    return f"the rate is {ratio(row)} that before"
