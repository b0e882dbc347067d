"""Machines side by side: which needs a person first, and the funnel of each pattern.

A machine stands where its most pressing pattern of the last weeks puts it: by severity, then by whether it comes
oftener than in its own past, then by its rate against that of its sisters, pulled towards them so that one event in a
short log does not win. A rank is given only where all three together separate the machine from every other; else it is
the range that its limits leave open.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import polars as pl

from eventlens import schema
from eventlens.statistics.funnel import LEVELS, funnel, funnel_limits, shrink
from eventlens.trends import tables

KEY = ("pattern", "motion")


def funnels(trends: pl.DataFrame, weeks: pl.DataFrame, level: float) -> pl.DataFrame:
    """tables.FUNNEL of the last weeks: patterns that a machine shows and that at least two could.

    trends: tables.TRENDS; weeks: schema.WEEKS of the last weeks, for the machines that do not show a pattern.
    """
    spreads = trends.select("machine", *KEY, "spread")
    sides = (
        weeks.filter(pl.col("lack").is_null() | (pl.col("count") > 0))
        .group_by("machine", *KEY, "exposure", maintain_order=True)
        .agg(pl.col("count").sum(), pl.col("amount").sum())
        .filter(pl.col("amount") > 0)
        .join(spreads, on=["machine", *KEY], how="left", nulls_equal=True)
        .with_columns(pl.col("spread").fill_null(1.0).alias("bursts"))
    )
    parts = [tables.FUNNEL.empty()]
    for _, part in sides.group_by(*KEY, "exposure", maintain_order=True):
        if part.height > 1 and part["count"].sum():
            parts.append(_funnel(part, level))
    return tables.FUNNEL.check(pl.concat(parts).sort(*tables.FUNNEL.sort))


def _funnel(part: pl.DataFrame, level: float) -> pl.DataFrame:
    counts, uses = part["count"].to_numpy().astype(float), part["amount"].to_numpy()
    # bursts of the machines together, so that one law holds for all
    bursts = float(np.average(part["bursts"], weights=np.maximum(counts, 1e-9)))
    found = funnel(counts / bursts, uses / bursts)
    pulled = shrink(counts / bursts, uses / bursts, level)
    columns: dict[str, Any] = {
        "rate": found.rates,
        "centre": np.full(part.height, found.centre),
        "spread": np.full(part.height, found.spread),
        "beyond": found.beyond,
    }
    for name, inner in (("", LEVELS[0]), ("_outer", LEVELS[1])):
        low, high = funnel_limits(found.centre, uses / bursts, inner, found.spread)
        columns |= {f"low{name}": low, f"high{name}": high}
    assert pulled is not None  # there are two machines and some events
    for name, rates in (("shrunk", pulled.rates), ("shrunk_low", pulled.low), ("shrunk_high", pulled.high)):
        columns[name] = rates / found.centre
    frame = part.with_columns(pl.Series(name, values) for name, values in columns.items())
    return frame.select(pl.col(name).cast(column.dtype) for name, column in tables.FUNNEL.columns.items())


def fleet(machines: list[str], trends: pl.DataFrame, side_by_side: pl.DataFrame, life: pl.DataFrame) -> pl.DataFrame:
    """tables.FLEET from tables.TRENDS, tables.FUNNEL and tables.LIFE."""
    used = dict(life.select("machine", "used_share").iter_rows())
    sisters = side_by_side.select("machine", *KEY, "exposure", "shrunk", "shrunk_low", "shrunk_high")
    shown = trends.filter(pl.col("recent_count") > 0).join(
        sisters, on=["machine", *KEY, "exposure"], how="left", nulls_equal=True
    )
    rows = [_leading(machine, shown.filter(pl.col("machine") == machine)) for machine in machines]
    for row in rows:
        row["life_used"] = used.get(row["machine"])
        first = sum(_before(other, row) for other in rows)
        behind = sum(_before(row, other) for other in rows)
        row["rank_best"], row["rank_worst"] = first + 1, len(rows) - behind
        row["rank"] = first + 1 if first + behind + 1 == len(rows) else None
    rows.sort(key=lambda row: (row["rank_best"], row["rank_worst"], *_order(row), row["machine"]))
    return tables.FLEET.check(pl.DataFrame(rows, schema=tables.FLEET.schema))


def _leading(machine: str, shown: pl.DataFrame) -> dict[str, Any]:
    """What puts the machine where it stands."""
    row: dict[str, Any] = {"machine": machine, "active": shown.height, "severity": None, "verdict": None}
    if shown.is_empty():
        return row
    lead = min(shown.iter_rows(named=True), key=_order)
    names = ("severity", *KEY, "exposure", "verdict", "ratio", "shrunk", "shrunk_low", "shrunk_high")
    row |= {name: lead[name] for name in names}
    return row | {"count": lead["recent_count"], "amount": lead["recent_amount"]}


def _grade(row: dict[str, Any]) -> tuple[int, bool]:
    """Severity (0 the worst) and whether it is not known to come oftener."""
    severity = row["severity"]
    place = len(schema.SEVERITIES) if severity is None else schema.SEVERITIES.index(severity)
    return place, row["verdict"] != "rising"


def _order(row: dict[str, Any]) -> tuple[Any, ...]:
    """What comes first; where the sisters say nothing, what differs most from its own past."""
    shrunk = row.get("shrunk")
    return (*_grade(row), -(shrunk if shrunk is not None else 1.0), row.get("p", 1.0), row.get("pattern") or "")


def _before(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Whether a machine surely comes before another."""
    if _grade(one) != _grade(other):
        return _grade(one) < _grade(other)
    low, high = one.get("shrunk_low"), other.get("shrunk_high")
    return low is not None and low > (math.inf if high is None else high)
