"""What has changed, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

import polars as pl

from dashboards.data._names import key_of, series_name
from dashboards.data._rates import counted_in, ratio
from dashboards.series import Change
from eventlens import schema
from eventlens.report.comparison import TIME
from eventlens.report.trends import before_work
from eventlens.report.words import figure, listed
from eventlens.trends import Trends

CALM: Final = "calm"
ORDER: Final = (*schema.SEVERITIES, CALM)
"""Levels of changes, the most pressing first."""
_WEEKS_NAMED: Final = 3


def of_rates(found: Trends) -> Iterator[Change]:
    """Patterns that come oftener, more seldom, or unevenly."""
    changed = pl.col("verdict").is_in(["rising", "uneven", "falling"])
    for row in found.rates.filter(changed).iter_rows(named=True):
        less = row["verdict"] == "falling" or (row["ratio_high"] is not None and row["ratio_high"] < 1)
        level = CALM if less or not row["recent_count"] else row["severity"]
        text = f"{series_name(row)} {_rate_says(row, less=less)}"
        yield Change(level, row["machine"], key_of(row), text)


def _rate_says(row: Mapping[str, Any], *, less: bool) -> str:
    recent = counted_in(row["recent_count"], row["recent_amount"], row["exposure"])
    if less and not row["recent_count"]:
        past = counted_in(row["past_count"], row["past_amount"], row["exposure"])
        return f"has not come in the last weeks: {recent}, {past} before."
    what = {"rising": "comes oftener", "falling": "comes more seldom"}.get(row["verdict"])
    if what is None:
        named = listed(row["beyond"], _WEEKS_NAMED)
        what = "comes more seldom than it did" if less else "differs from week to week more than chance explains"
        what += f" (beyond its limits in {named})" if named and not less else ""
    past = f", {ratio(row)} its earlier rate" if row["ratio"] is not None else ", and none in the weeks before"
    return f"{what}: {recent} in the last weeks" + (past if row["ratio_low"] is not None else "") + "."


def of_times(found: Trends) -> Iterator[Change]:
    """Measured times that drift, or did until the latest work: it may have been renewed for that."""
    for row in found.times.filter(pl.col("verdict").is_in(["longer", "shorter"])).iter_rows(named=True):
        level = "watch" if needs_person(row) else CALM
        yield Change(level, row["machine"], "", f"{row['motion']}: {TIME[row['time']]} {drift(row)}.")
    for row in found.times.iter_rows(named=True):
        if said := before_work(row):
            since = f"; {_s(row['last_s'])} in the last week"
            yield Change(CALM, row["machine"], "", f"{row['motion']}: {TIME[row['time']]} {said}{since}.")


def needs_person(row: Mapping[str, Any]) -> bool:
    """A time that grows does; so does a speed change that comes sooner: the load swings or jerks."""
    sooner = row["verdict"] == "shorter" and row["time"] == "speed_change_delay_s"
    return bool(row["verdict"] == "longer" or sooner)


def drift(row: Mapping[str, Any]) -> str:
    """How a measured time moved."""
    way = "gets" if row["shape"] == "slope" else "has been"
    if row["shape"] == "slope":
        low, high = (f"{1000 * row[f'slope_{end}']:+.1f}" for end in ("low", "high"))
        by = f"by {1000 * row['slope_s_per_week']:+.1f} ms a week ({low} to {high})"
        return f"{way} {row['verdict']}, {by}: {_s(row['first_s'])} in the first week, {_s(row['last_s'])} in the last"
    span = "" if row["change_first"] == row["change_last"] else f" ({row['change_first']} to {row['change_last']})"
    return f"{way} {row['verdict']} since {row['change']}{span}: {_s(row['after_s'])}, {_s(row['before_s'])} before"


def _s(seconds: float) -> str:
    return f"{figure(seconds)} s"
