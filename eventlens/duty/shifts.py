"""Shifts: when people begin to work with the machine, as the machine file says or as the log's own rests show."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

import polars as pl

from eventlens import schema

REST_S: Final = 4 * 3600.0
"""A rest of this length [s] parts two shifts where the machine file names none (common practice: no break lasts it)."""


@dataclass(frozen=True)
class Shifts:
    """The shifts of a log."""

    begins: pl.Series
    """Instants at which one begins (schema.TIME), ascending."""
    how: str
    """Where they come from, in words."""

    def number(self, instants: pl.Series, early_s: float = 0.0) -> pl.Series:
        """Which shift each instant belongs to, from 0; -1 before the first. early_s: so long before one begins [s]."""
        late = instants + timedelta(seconds=early_s)
        return self.begins.search_sorted(late, side="right").cast(pl.Int64) - 1

    def since_s(self, instants: pl.Series, early_s: float = 0.0) -> pl.Series:
        """Seconds from the beginning of its shift to each instant; null before the first, below 0 where early."""
        at = self.number(instants, early_s)
        begin = self.begins.gather(at.clip(0))
        seconds = (instants - begin).dt.total_microseconds() / 1e6
        return pl.select(pl.when(at >= 0).then(seconds)).to_series()


def shifts_of(runs: pl.DataFrame, stated: tuple[str, ...], timezone: str) -> Shifts:
    """The shifts of runs of all motions (schema.RUNS). stated: as in the machine file, '06:00-14:00'."""
    if runs.is_empty():
        return Shifts(pl.Series([], dtype=schema.TIME), "no runs")
    if stated:
        return Shifts(_by_clock(runs, stated, timezone), how(stated))
    ordered = runs.select("start", "end").sort("start")
    rest = (pl.col("start") - pl.col("end").cum_max().shift(1)).dt.total_microseconds() / 1e6
    begins = ordered.filter((rest >= REST_S).fill_null(value=True))["start"]
    return Shifts(begins, how(stated))


def how(stated: tuple[str, ...]) -> str:
    """Where shifts come from."""
    return "as the machine file says" if stated else f"found from rests of {REST_S / 3600:g} h and more in the log"


def _by_clock(runs: pl.DataFrame, stated: tuple[str, ...], timezone: str) -> pl.Series:
    """The beginnings by the local clock, on every day of the runs; one that summer time skips is left out."""
    span = runs.select(first=pl.col("start").min(), last=pl.col("end").max()).row(0)
    first, last = (pl.Series([instant]).dt.convert_time_zone(timezone).dt.date()[0] for instant in span)
    days = pl.date_range(first - timedelta(days=1), last, eager=True).cast(pl.Datetime("us"))
    begins = []
    for shift in stated:
        hour, minute = map(int, shift.partition("-")[0].strip().split(":"))
        local = days + timedelta(hours=hour, minutes=minute)
        begins.append(local.dt.replace_time_zone(timezone, ambiguous="earliest", non_existent="null").drop_nulls())
    return pl.concat(begins).dt.convert_time_zone("UTC").sort()
