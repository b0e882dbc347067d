"""Life over the weeks: the hours of full load that each week used, what that makes in all, and when they end.

The weeks are added to the hours that are stated: those of the machine file hold before the first week, those of an
entry before the first week after it. Weeks that nobody logged are not in it, so that what is used is at least this
much. The forecast is that of a review (life.forecast), from the days of all weeks together.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import polars as pl

from eventlens import schema
from eventlens.life.forecast import daily_use, forecast
from eventlens.statistics.charts import LITTLE
from eventlens.trends import tables

DAY_H: Final = 24.0


def life_weeks(days: pl.DataFrame) -> pl.DataFrame:
    """tables.LIFE_WEEKS from schema.WEEK_LIFE."""
    weekly = (
        days.sort(*schema.WEEK_LIFE.sort)
        .group_by("machine", "week", maintain_order=True)
        .agg(
            (pl.col("observed").sum() * DAY_H).alias("observed_h"),
            pl.col("full_load_h").sum(),
            pl.col("duration_h").last(),
            pl.col("stated_h", "stated_at").first(),
        )
        .with_columns(stretch=pl.struct("machine", "stated_at").rle_id())
        .with_columns(
            share=pl.col("full_load_h") / pl.col("duration_h"),
            used_h=pl.col("stated_h").first().over("stretch") + pl.col("full_load_h").cum_sum().over("stretch"),
            little=pl.col("observed_h") < LITTLE * pl.col("observed_h").median().over("machine"),
        )
        .with_columns(used_share=pl.col("used_h") / pl.col("duration_h"))
    )
    return tables.LIFE_WEEKS.check(_fitted(weekly, tables.LIFE_WEEKS))


def life_of(days: pl.DataFrame, weekly: pl.DataFrame) -> pl.DataFrame:
    """tables.LIFE from schema.WEEK_LIFE and tables.LIFE_WEEKS."""
    rows = [_row(part, weekly) for _, part in days.group_by("machine", maintain_order=True)]
    return tables.LIFE.check(pl.DataFrame(rows, schema=tables.LIFE.schema).sort("machine"))


def _row(days: pl.DataFrame, weekly: pl.DataFrame) -> dict[str, Any]:
    """What is used of one machine's period, and until when it lasts."""
    days = days.sort("day")
    last = days.row(-1, named=True)
    mine = weekly.filter(pl.col("machine") == last["machine"])
    used = float(mine["used_h"][-1])
    rate = daily_use(days.select("weekday", "observed", use="full_load_h"))
    ends = forecast(last["duration_h"] - used, rate, last["until"])
    row = {
        **{name: last[name] for name in ("machine", "duration_h", "how", "source", "confidence")},
        "used_h": used,
        "used_share": used / last["duration_h"],
        "weeks": mine.height,
        "little": int(mine["little"].sum()),
    }
    if rate is not None:
        row |= {"h_per_week": 7 * rate.per_day, "drawn": rate.drawn, "assumes": rate.note}
        row |= {
            f"h_per_week_{end}": 7 * at if (at := getattr(rate, end)) is not None else None for end in ("low", "high")
        }
    if ends is not None:
        row |= {"ends": ends.at, "earliest": ends.earliest, "latest": ends.latest}
    return row


def notes(days: pl.DataFrame, machines: list[str]) -> Iterator[str]:
    """Machines of which nothing can be said, and why."""
    known = set(days["machine"])
    if silent := [machine for machine in machines if machine not in known]:
        yield (
            f"no life is counted for {', '.join(silent)}: group and load spectrum of the hoist must be known "
            "([machine] group, and load.kg in the log or [life] load_spectrum)"
        )


def _fitted(frame: pl.DataFrame, table: schema.Table) -> pl.DataFrame:
    return frame.select(pl.col(name).cast(column.dtype) for name, column in table.columns.items())
