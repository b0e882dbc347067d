"""Stretches in which several signals are in a wanted state at once, and times that are held against a limit."""

from __future__ import annotations

import polars as pl

from eventlens import schema
from eventlens.motion.near import seconds
from eventlens.patterns._base import moved

_NEVER = pl.Schema(
    {
        "start": schema.TIME,
        "end": schema.TIME,
        "start_row": schema.ROW(),
        "end_row": schema.ROW(),
        "segment": pl.UInt32(),
        "measured": pl.Float64(),
    }
).to_frame()


def together(*sides: pl.DataFrame) -> pl.DataFrame:
    """Stretches (start, end, start_row, end_row, segment, measured [s]) that lie in an interval of every side.

    sides: disjoint known intervals (motion.states). None reaches over a hole or a state that is not known. measured
    is the length; what touches at one instant only, as equal stamps in inverted order do, is none.
    """
    if any(side.is_empty() for side in sides):
        return _NEVER
    begins = [side.select(time="start", row="start_row", segment="segment", way=pl.lit(1, pl.Int8)) for side in sides]
    ends = [side.select(time="end", row="end_row", segment="segment", way=pl.lit(-1, pl.Int8)) for side in sides]
    edges = pl.concat([*begins, *ends]).sort("time", "way", maintain_order=True)
    return (
        edges.select(
            start="time",
            end=pl.col("time").shift(-1),
            start_row="row",
            end_row=pl.col("row").shift(-1),
            segment="segment",
            all=pl.col("way").cast(pl.Int32).cum_sum() == len(sides),
        )
        .filter(pl.col("all") & (pl.col("end") > pl.col("start")))
        .with_columns(measured=seconds("end", "start"))
        .drop("all")
    )


def maybe_over(measured: pl.Expr, limit_s: float, uncertainty_s: float) -> pl.Expr:
    """Whether a measured time may exceed the limit, to within the uncertainty [s]."""
    return moved(measured, uncertainty_s) > limit_s


def surely_over(measured: pl.Expr, limit_s: float, uncertainty_s: float) -> pl.Expr:
    """Whether a measured time exceeds the limit by more than the uncertainty [s]."""
    return moved(measured, -uncertainty_s) > limit_s


def apart(limit_s: float, healthy_s: float) -> float:
    """The coarsest log step [s] at which a healthy time never comes near the limit: one step of error and two of doubt.

    healthy_s: the longest healthy time at the default limit, below the limit.
    """
    return round((limit_s - healthy_s) / 3, 6)
