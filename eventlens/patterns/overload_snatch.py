"""Overload by snatch: the overload device trips in the first moment of a raise.

Definition: a trip (see `overload_trip`) no later than `snatch_s` after the raise run began. The load was picked up at
speed or from a slack rope: the dynamic peak trips the device, not the weight. Where the log's uncertainty reaches over
the limit it is possible.
Source: common practice (0.7 to 1 s). Cost: one match of trips with raise runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.patterns._base import FOUND, Context, Pattern, graded, moved
from eventlens.patterns._overload import overload_merge_s, snatch_s, trips


@dataclass(frozen=True)
class Parameters:
    overload_merge_s: float = overload_merge_s()
    snatch_s: float = snatch_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Trips of the overload device in the first moment of a raise."""
    return (
        trips(context, p.overload_merge_s)
        .filter(pl.col("into_raise_s") <= p.snatch_s)
        .with_columns(
            graded(moved(pl.col("into_raise_s"), context.uncertainty_s) <= p.snatch_s),
            signal=pl.lit("overload.trip"),
            measured="into_raise_s",
            limit=pl.lit(p.snatch_s),
            direction=pl.lit("raise", schema.DIRECTION),
        )
        .select(*FOUND, "signal")
    )


EXAMPLE = """
0.1 s
hoist.raise.command    ..############............
hoist.raise.contactor  ..######..................
overload.trip          ........#######...........
"""

PATTERN = Pattern(
    name="overload_snatch",
    title="overload trip by snatch",
    parameters=Parameters,
    find=find,
    motions=("hoist",),
    needs=(("overload.trip", "hoist.raise.contactor"), ("overload.trip", "hoist.raise.command")),
    severity="watch",
    why_severity="the peak strikes rope, hook and gear; it is a way of working that can be changed",
    usually="loads picked up in fast or from a slack rope",
    unit="s into the raise",
    look_back_s=600.0,
    finest=("snatch_s",),
    example=EXAMPLE,
)
