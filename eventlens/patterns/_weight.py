"""What measured load and motor current say of trips of the overload device."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

import polars as pl

from eventlens.duty.load import Load
from eventlens.motion.near import seconds
from eventlens.patterns._base import Context

LAG_S: Final = 0.5
"""So long after a trip the load of the attempt may still be recorded [s] (common practice: the scale is filtered)."""
FINE_S: Final = 0.1
"""Records of the load no further apart than this [s] show how fast it grows (common practice, no source)."""
SPAN: Final = 3
"""Over so many records the growth is taken, so that one that jumps does not count."""
SHOWN: Final = 0.8
"""Share of the growth that close records must show for a slow one to count as seen (common practice, no source)."""
STARTING_S: Final = 1.0
"""So long a motor may draw its starting current [s] (from memory: a few tenths of a second)."""
RUNS_FOR_IDLE: Final = 10
"""Raises with a known current from which the lightest tell the current without load (common practice, no source)."""


def attempts(trips: pl.DataFrame) -> pl.DataFrame:
    """(n, start, end, segment, trip) of the raises that a trip ended, from their start to a moment after the trip.

    trips: (start, into_raise_s, segment) as of `_overload.trips`; those outside a raise run are left out.
    """
    begin = pl.col("start") - pl.duration(microseconds=(pl.col("into_raise_s") * 1e6).round())
    known = trips.filter(pl.col("into_raise_s") > 0).select(trip="start", start=begin, segment="segment").sort("start")
    after = pl.col("trip") + timedelta(seconds=LAG_S)
    end = pl.min_horizontal(after, pl.col("start").shift(-1).fill_null(after))
    return known.with_row_index("n").with_columns(end=end).select("n", "start", "end", "segment", "trip")


def records_in(tried: pl.DataFrame, load: Load) -> pl.DataFrame:
    """(n, time, ratio): for each attempt the load when it began, if known, and every record of it."""
    steps = load.steps.select("segment", time="start", until="end", ratio="ratio").sort("time")
    after = steps.join_asof(
        tried.select("n", "end", begin="start", of="segment").sort("begin"), left_on="time", right_on="begin"
    ).filter((pl.col("time") <= pl.col("end")) & (pl.col("of") == pl.col("segment")))
    before = tried.sort("start").join_asof(
        steps.rename({"segment": "of"}), left_on="start", right_on="time", allow_exact_matches=False
    )
    before = before.filter((pl.col("until") >= pl.col("start")) & (pl.col("of") == pl.col("segment")))
    return pl.concat([before.select("n", time="start", ratio="ratio"), after.select("n", "time", "ratio")]).sort(
        "n", "time", maintain_order=True
    )


def highest(tried: pl.DataFrame, load: Load) -> pl.DataFrame:
    """(trip, share) of the attempts in which the load was recorded: the highest, in shares of the rated load."""
    found = (
        records_in(tried, load)
        .join(tried.select("n", "start", "trip"), on="n")
        .group_by("trip")
        .agg(share=pl.col("ratio").max(), fresh=(pl.col("time") > pl.col("start")).any())
    )
    return found.filter("fresh").select("trip", "share").sort("trip")


def slopes(tried: pl.DataFrame, load: Load, uncertainty_s: float) -> pl.DataFrame:
    """(trip, least, most) of the attempts in which the growth of the load shows: rated loads per second.

    The steepest growth over SPAN close records lies between least and most; most is null where it may have grown
    faster between records that are too far apart.
    """
    grown = records_in(tried, load).with_columns(
        rise=pl.col("ratio").diff().over("n").clip(0.0),
        gap=seconds("time", pl.col("time").shift(1).over("n")),
        over=seconds("time", pl.col("time").shift(SPAN).over("n")),
        by=pl.col("ratio").diff(SPAN).over("n"),
    )
    grown = grown.join(tried.select("n", "trip"), on="n", maintain_order="left")
    grown = grown.filter(pl.col("time") <= pl.col("trip") + timedelta(seconds=FINE_S))
    close = pl.col("over") <= SPAN * FINE_S
    u = uncertainty_s
    found = grown.group_by("n").agg(
        least=(pl.col("by") / (pl.col("over") + u)).filter(close).max(),
        most=pl.when(pl.col("over") > u)
        .then(pl.col("by") / (pl.col("over") - u))
        .otherwise(pl.lit(float("inf")))
        .filter(close & (pl.col("by") > 0))
        .max(),
        seen=pl.col("rise").filter(pl.col("gap") <= FINE_S).sum() / pl.col("rise").sum(),
    )
    shown = pl.when(pl.col("seen") >= SHOWN).then("most")
    return (
        tried.join(found, on="n")
        .select("trip", "least", shown.alias("most"))
        .filter(pl.col("least").is_not_null())
        .sort("trip")
    )


def running_current(context: Context) -> pl.DataFrame:
    """(start, end, current_a) of raise runs: the middle of what was recorded after the starting current [A]."""
    drawn = context.measures.filter(
        (pl.col("signal").cast(pl.String) == "hoist.motor.current_a") & pl.col("value").is_finite()
    ).select("time", "value", of="segment")
    raising = context.runs_of("hoist").filter(pl.col("direction") == "raise").select("start", "end", "segment")
    return (
        drawn.sort("time")
        .join_asof(raising.sort("start"), left_on="time", right_on="start")
        .filter((pl.col("time") <= pl.col("end")) & (pl.col("of") == pl.col("segment")))
        .filter(seconds("time", "start") >= STARTING_S)
        .group_by("start", "end", maintain_order=True)
        .agg(current_a=pl.col("value").median())
    )
