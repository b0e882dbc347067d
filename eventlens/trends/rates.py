"""Rates of patterns over the weeks: with exact limits, on a u chart, and whether they grow.

Two tests for each pattern of each machine, chosen beforehand: the most unusual week of the chart, and Laplace's test of
growth. The smaller p-value counts for two, and all patterns of all machines that occurred at all are adjusted together
(statistics.discovery). The last weeks against those before say how much it changed; they are no further test.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import polars as pl
from numpy.typing import NDArray

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
    every = _prepared(weeks)
    last = set(sorted(weeks["week"].unique())[-RECENT:])
    rows, charts = [], []
    for series in _series(every):
        row, chart = _row(series, last, level)
        rows.append(row)
        charts.append(chart)
    made = [row for row in rows if row["verdict"] != "too_little"]
    for row, value in zip(made, adjusted([row["p"] for row in made]), strict=True):
        row["p_adjusted"] = value
        if value <= 1 - level:
            row["verdict"] = _verdict(row, level)
    frame = pl.DataFrame(rows, schema=tables.TRENDS.schema).sort(*tables.TRENDS.sort, maintain_order=True)
    return tables.TRENDS.check(frame), tables.TREND_WEEKS.check(_weekly(every, charts, level)), len(made)


def _prepared(weeks: pl.DataFrame) -> pl.DataFrame:
    """The weeks of each pattern that ever occurred, in order, with `judged`: those that can be held against the last.

    A week belongs where it lacked the same as the latest one did; one whose log was too short is neither. Where weeks
    count against different things, all count against starts, which are always known.
    """
    occurred = weeks.filter(pl.col("count").sum().over(KEY) > 0).sort(*schema.WEEKS.sort)
    mixed = pl.col("exposure").n_unique().over(KEY) > 1
    short = pl.col("lack").str.contains("too_little_log").fill_null(value=False)
    like = pl.col("lack").filter(~short).last().over(KEY)
    return occurred.with_columns(
        exposure=pl.when(mixed).then(pl.lit("start")).otherwise("exposure"),
        amount=pl.when(mixed).then(pl.col("starts").cast(pl.Float64)).otherwise("amount"),
    ).with_columns(judged=pl.col("lack").eq_missing(like) & ~short & (pl.col("amount") > 0))


@dataclass(frozen=True)
class _Series:
    """The weeks of one pattern of one machine, in order."""

    said: dict[str, Any]
    """Machine, pattern, motion, exposure."""
    weeks: list[str]
    judged: NDArray[np.bool_]
    count: Floats
    amount: Floats
    certain: Floats
    most: Floats
    variance: Floats


def _series(every: pl.DataFrame) -> Iterator[_Series]:
    """The rows of each pattern, as arrays: there are many patterns, and few weeks of each."""
    said = every.select(*KEY, "exposure")
    begins = said.select(pl.struct(*KEY).rle_id().alias("id"))["id"].to_numpy()
    edges = [0, *(np.flatnonzero(np.diff(begins)) + 1).tolist(), every.height]
    firsts = said.gather(edges[:-1]).to_dicts() if every.height else []
    weeks = every["week"].to_list()
    names = ("judged", "count", "amount", "certain", "most", "variance")
    columns = {name: every[name].to_numpy() for name in names}
    for key, begin, end in zip(firsts, edges, edges[1:], strict=False):
        part = {name: values[begin:end] for name, values in columns.items()}
        floats = {name: values.astype(float) for name, values in part.items() if name != "judged"}
        yield _Series(key, weeks[begin:end], part["judged"], **floats)


def spread_of(count: Floats, most: Floats, variance: Floats) -> float:
    """statistics.bursts.spread from the terms that each week carries."""
    whole = float(count.sum())
    return max(1.0, float(variance.sum()) / whole) if whole and most.max() > 1 else 1.0


_UNTESTED: Final = {
    "beyond": (),
    "run": (),
    "p_chart": 1.0,
    "p_growth": 1.0,
    "p": 1.0,
    "p_adjusted": 1.0,
    "verdict": "too_little",
}


def _row(series: _Series, last: set[str], level: float) -> tuple[dict[str, Any], Chart | None]:
    """The row of one pattern but for what depends on the others, and its chart."""
    pick = series.judged
    counts, uses = series.count[pick], series.amount[pick]
    names = [week for week, judged in zip(series.weeks, pick, strict=True) if judged]
    wide = spread_of(counts, series.most[pick], series.variance[pick])
    late = np.asarray([week in last for week in names], bool)
    row: dict[str, Any] = {
        **series.said,
        "severity": severity_of(series.said["pattern"], float(series.certain.sum())),
        "weeks": len(names),
        "count": int(counts.sum()),
        "amount": float(uses.sum()),
        "spread": wide,
        **_recent(counts, uses, late, level, wide),
        **_UNTESTED,
    }
    if not names:
        return row, None
    low, high = exact(counts.sum(), uses.sum(), level, wide)
    bounds = anytime_bounds(np.cumsum(counts), np.cumsum(uses), LIKELY, level=level, spread=wide)
    row |= {"rate": row["count"] / row["amount"], "rate_low": float(low), "rate_high": float(high)}
    row |= {"always_low": float(bounds.low[-1]), "always_high": float(bounds.high[-1])}
    chart = u_chart(counts, uses, spread=wide)
    if len(names) >= LEAST_WEEKS and counts.any():
        row |= _tested(names, counts, uses, chart, wide)
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


def severity_of(pattern: str, certain: float) -> str:
    """The pattern's severity; what was only ever possible asks for watching (as in a review)."""
    severity = patterns.catalogue()[pattern].severity
    return severity if severity == "note" or certain else "watch"


def _recent(counts: Floats, uses: Floats, late: NDArray[np.bool_], level: float, wide: float) -> dict[str, Any]:
    """The last weeks of the history against those before."""
    past, recent = int(counts[~late].sum()), int(counts[late].sum())
    before, since = float(uses[~late].sum()), float(uses[late].sum())
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


def _weekly(every: pl.DataFrame, charts: list[Chart | None], level: float) -> pl.DataFrame:
    """tables.TREND_WEEKS of all patterns; limits of single weeks are those of their counts as they are."""
    counts = every["count"].to_numpy()
    columns: dict[str, Any] = {}
    for name, per, amount in (("", 1.0, "amount"), *((f"{base}_", per, base) for base, per in BASES.items())):
        uses = every[amount].cast(pl.Float64).fill_null(0.0).to_numpy() / per
        low, high = exact(counts, uses, level)
        with np.errstate(divide="ignore", invalid="ignore"):
            rates = np.where(uses > 0, counts / uses, np.nan)
        own = name == ""
        columns |= {"rate" if own else f"{name}rate": rates}
        columns |= {"rate_low" if own else f"{name}low": low, "rate_high" if own else f"{name}high": high}
    places = np.flatnonzero(every["judged"].to_numpy())
    on_chart = {"chart_low": np.nan, "chart_high": np.nan, "beyond": 0, "little": False}
    for name, nothing in on_chart.items():
        values = np.full(every.height, nothing)
        parts = [getattr(chart, name.removeprefix("chart_")) for chart in charts if chart is not None]
        if parts:
            values[places] = np.concatenate(parts)
        columns[name] = values
    frame = every.with_columns(pl.Series(name, values, nan_to_null=True) for name, values in columns.items())
    chosen = frame.select(pl.col(name).cast(column.dtype) for name, column in tables.TREND_WEEKS.columns.items())
    return chosen.sort(*tables.TREND_WEEKS.sort)
