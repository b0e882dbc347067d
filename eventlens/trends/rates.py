"""Rates of patterns over the weeks: with exact limits, on a u chart, and whether they grow.

Two tests for each pattern of each machine, chosen beforehand: the most unusual week of the chart, and Laplace's test of
growth. The smaller p-value counts for two, and all patterns of all machines that occurred at all are adjusted together
(statistics.discovery). The last weeks against those before say how much it changed; they are no further test.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import polars as pl

from eventlens import patterns, schema
from eventlens.statistics import two_rates
from eventlens.statistics.anytime import anytime_bounds
from eventlens.statistics.arrays import Floats
from eventlens.statistics.charts import Chart, u_chart
from eventlens.statistics.discovery import adjusted
from eventlens.statistics.grouped import grouped_beta, grouped_laplace
from eventlens.trends import tables

KEY: Final = ("machine", "pattern", "motion")
RECENT: Final = 4
"""How many of the last weeks of the history are held against those before (common practice: a month)."""
LEAST_WEEKS: Final = 4
"""Weeks with use below which no trend is judged (common practice, no source)."""
LIKELY: Final = 10.0
"""Rate [1/unit of use] about which the bounds for every look are tightest: ten faults an hour, or one fault in each try
ten times over; hardly any pattern comes oftener, and seldomer costs little (no source)."""
BASES: Final = {"observed_h": 1.0, "running_h": 1.0, "lifts": 100.0}
"""What weekly rates are given against besides their own use, and per how many of it."""


def rate_trends(weeks: pl.DataFrame, level: float) -> tuple[pl.DataFrame, pl.DataFrame, int]:
    """tables.TRENDS and tables.TREND_WEEKS from schema.WEEKS, and how many comparisons were made."""
    rows: list[dict[str, Any]] = []
    weekly = [tables.TREND_WEEKS.empty()]
    last = sorted(weeks["week"].unique())[-RECENT:]
    for series in _series(weeks):
        row, chart = _row(series, last, level)
        rows.append(row)
        weekly.append(_weekly(series, chart, level))
    made = [row for row in rows if row["verdict"] != "too_little"]
    for row, value in zip(made, adjusted([row["p"] for row in made]), strict=True):
        row["p_adjusted"] = value
        if value <= 1 - level:
            row["verdict"] = _verdict(row, level)
    frame = pl.DataFrame(rows, schema=tables.TRENDS.schema).sort(*tables.TRENDS.sort, maintain_order=True)
    every = pl.concat(weekly).sort(*tables.TREND_WEEKS.sort)
    return tables.TRENDS.check(frame), tables.TREND_WEEKS.check(every), len(made)


def _series(weeks: pl.DataFrame) -> Iterator[pl.DataFrame]:
    """The weeks of each pattern that ever occurred, in order, with `judged`: those that can be held against the last.

    A week belongs where it lacked the same as the latest one did, unless the log was too short. Where weeks count
    against different things, all count against starts, which are always known.
    """
    occurred = weeks.filter(pl.col("count").sum().over(KEY) > 0).sort(*schema.WEEKS.sort)
    for _, part in occurred.group_by(KEY, maintain_order=True):
        series = part
        if part["exposure"].n_unique() > 1:
            series = part.with_columns(exposure=pl.lit("start"), amount=pl.col("starts").cast(pl.Float64))
        alike = pl.col("lack").eq_missing(pl.col("lack").last()) & (pl.col("amount") > 0)
        yield series.with_columns(judged=alike & ~pl.col("lack").str.contains("too_little_log").fill_null(value=False))


def spread_of(series: pl.DataFrame) -> float:
    """statistics.bursts.spread from the terms that each week carries."""
    count, most, variance = series.select(pl.col("count").sum(), pl.col("most").max(), pl.col("variance").sum()).row(0)
    return max(1.0, variance / count) if count and most > 1 else 1.0


_UNTESTED: Final = {
    "beyond": (),
    "run": (),
    "p_chart": 1.0,
    "p_growth": 1.0,
    "p": 1.0,
    "p_adjusted": 1.0,
    "verdict": "too_little",
}


def _row(series: pl.DataFrame, last: list[str], level: float) -> tuple[dict[str, Any], Chart | None]:
    """The row of one pattern but for what depends on the others, and its chart."""
    judged = series.filter("judged")
    wide = spread_of(judged)
    counts, uses = judged["count"].to_numpy().astype(float), judged["amount"].to_numpy()
    row: dict[str, Any] = {
        **{name: series[name][0] for name in (*KEY, "exposure")},
        "severity": severity_of(series),
        "weeks": judged.height,
        "count": int(counts.sum()),
        "amount": float(uses.sum()),
        "spread": wide,
        **_recent(judged, last, level, wide),
        **_UNTESTED,
    }
    if not judged.height:
        return row, None
    low, high = exact(counts.sum(), uses.sum(), level, wide)
    bounds = anytime_bounds(np.cumsum(counts), np.cumsum(uses), LIKELY, level=level, spread=wide)
    row |= {"rate": row["count"] / row["amount"], "rate_low": float(low), "rate_high": float(high)}
    row |= {"always_low": float(bounds.low[-1]), "always_high": float(bounds.high[-1])}
    chart = u_chart(counts, uses, spread=wide)
    if judged.height >= LEAST_WEEKS and counts.any():
        row |= _tested(judged["week"].to_list(), counts, uses, chart, wide)
    return row, chart


def _tested(names: list[str], counts: Floats, uses: Floats, chart: Chart, wide: float) -> dict[str, Any]:
    """Both tests: the most unusual week of the chart for as many weeks as there are, and growth."""
    growth = grouped_laplace(counts, uses, wide)
    by_chart, by_growth = min(1.0, float(chart.p.min()) * len(names)), growth.p if growth else 1.0
    return {
        "beyond": [names[at] for at in np.flatnonzero(chart.beyond)],
        "run": [names[at] for at in chart.run] if chart.run else [],
        "u": growth.statistic if growth else None,
        "beta": grouped_beta(counts, uses),
        "p_chart": by_chart,
        "p_growth": by_growth,
        "p": min(1.0, 2 * min(by_chart, by_growth)),
        "verdict": "not_shown",
    }


def severity_of(series: pl.DataFrame) -> str:
    """The pattern's severity; what was only ever possible asks for watching (as in a review)."""
    severity = patterns.catalogue()[series["pattern"][0]].severity
    return severity if severity == "note" or series["certain"].sum() else "watch"


def _recent(judged: pl.DataFrame, last: list[str], level: float, wide: float) -> dict[str, Any]:
    """The last weeks of the history against those before."""
    sides = [judged.filter(pl.col("week").is_in(last) == late) for late in (False, True)]
    (past, before), (recent, since) = ((int(side["count"].sum()), float(side["amount"].sum())) for side in sides)
    row = {"past_count": past, "past_amount": before, "recent_count": recent, "recent_amount": since}
    if not before or not since:
        return row
    found = two_rates.compare_rates(past, before, recent, since, level, wide)
    return {
        **row,
        "ratio": found.value,
        "ratio_low": found.low,
        "ratio_high": found.high,
        "smallest_rise": two_rates.smallest_rise(past, before, since, level, wide),
        "smallest_fall": two_rates.smallest_change(past, before, since, level, wide),
    }


def _verdict(row: dict[str, Any], level: float) -> str:
    """What a change is: growth where that test shows one too, else weeks unlike each other."""
    if row["u"] is None or 2 * row["p_growth"] > 1 - level:
        return "uneven"
    return "rising" if row["u"] > 0 else "falling"


def exact(counts: Any, uses: Any, level: float, spread: float = 1.0) -> tuple[Any, Any]:
    """Garwood's limits of rates (arrays too), bursts allowed for; nan without use."""
    from scipy.special import gammainccinv, gammaincinv  # loaded only when asked for

    x, n = np.asarray(counts, float) / spread, np.asarray(uses, float)
    tail = (1 - level) / 2
    low = np.where(x > 0, gammaincinv(np.maximum(x, 1e-9), tail), 0.0)
    high = gammainccinv(x + 1, tail)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(n > 0, spread * low / n, np.nan), np.where(n > 0, spread * high / n, np.nan)


def _weekly(series: pl.DataFrame, chart: Chart | None, level: float) -> pl.DataFrame:
    """tables.TREND_WEEKS of one pattern; limits of single weeks are those of their counts as they are."""
    counts = series["count"].to_numpy()
    columns: dict[str, Any] = {}
    for name, per, amount in (("", 1.0, "amount"), *((f"{base}_", per, base) for base, per in BASES.items())):
        uses = series[amount].cast(pl.Float64).fill_null(0.0).to_numpy() / per
        low, high = exact(counts, uses, level)
        with np.errstate(divide="ignore", invalid="ignore"):
            rates = np.where(uses > 0, counts / uses, np.nan)
        own = name == ""
        columns |= {"rate" if own else f"{name}rate": rates}
        columns |= {"rate_low" if own else f"{name}low": low, "rate_high" if own else f"{name}high": high}
    places = np.flatnonzero(series["judged"].to_numpy())
    on_chart = {"chart_low": np.nan, "chart_high": np.nan, "beyond": 0, "little": False}
    for name, nothing in on_chart.items():
        values = np.full(series.height, nothing)
        if chart is not None:
            values[places] = getattr(chart, name.removeprefix("chart_"))
        columns[name] = values
    frame = series.with_columns(pl.Series(name, values, nan_to_null=True) for name, values in columns.items())
    return frame.select(pl.col(name).cast(column.dtype) for name, column in tables.TREND_WEEKS.columns.items())
