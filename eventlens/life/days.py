"""The days of a log by the local calendar: how much of each was observed, and what was used on it."""

from __future__ import annotations

from datetime import timedelta

import polars as pl


def calendar(segments: pl.DataFrame, timezone: str) -> pl.DataFrame:
    """(day, weekday 1 to 7, observed) of every local day of the log; observed: share of the day in its segments.

    segments: (start, end), apart, by the controller's clock.
    """
    local = segments.select(pl.col("start", "end").dt.convert_time_zone(timezone))
    first, last = local["start"].min(), local["end"].max()
    if first is None or last is None:
        return pl.DataFrame(schema={"day": pl.Date, "weekday": pl.Int8, "observed": pl.Float64})
    dates = pl.date_range(first.date(), last.date() + timedelta(days=1), eager=True)  # type: ignore[union-attr]
    midnights = dates.cast(pl.Datetime("us")).dt.replace_time_zone(timezone, ambiguous="earliest", non_existent="null")
    days = pl.DataFrame({"day": dates, "from": midnights}).with_columns(to=pl.col("from").shift(-1)).drop_nulls()
    inside = days.join_where(local, pl.col("start") < pl.col("to"), pl.col("end") > pl.col("from"))
    seen = (pl.min_horizontal("end", "to") - pl.max_horizontal("start", "from")).dt.total_microseconds()
    whole = (pl.col("to") - pl.col("from")).dt.total_microseconds()
    return (
        inside.group_by("day", maintain_order=True)
        .agg(observed=((seen / whole).sum()).clip(0.0, 1.0))
        .join(days.select("day"), on="day", how="right")
        .sort("day")
        .select("day", pl.col("day").dt.weekday().alias("weekday"), pl.col("observed").fill_null(0.0))
    )


def used(days: pl.DataFrame, on: pl.Series, amount: pl.Series) -> pl.DataFrame:
    """The days with `use`: the sum of the amounts of each day. on: the day of each (a run belongs to that it began)."""
    spent = (
        pl.DataFrame({"day": on, "amount": amount})
        .group_by("day", maintain_order=True)  # so that sums are formed in one order
        .agg(use=pl.col("amount").sum())
    )
    return days.join(spent, on="day", how="left", maintain_order="left").with_columns(
        pl.col("use").cast(pl.Float64).fill_null(0.0)
    )


def per_working_day(days: pl.DataFrame) -> float | None:
    """Use on an average day that has any: of whole days where there are some, else of all; None without one."""
    some = days.filter(pl.col("use") > 0)
    whole = some.filter(pl.col("observed") >= 0.99)
    mean = (whole if whole.height else some)["use"].mean()
    return float(mean) if mean is not None else None  # type: ignore[arg-type]
