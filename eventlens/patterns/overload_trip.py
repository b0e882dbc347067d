"""Overload trip: the overload device cuts the lifting motion.

Definition: one trip is one stretch of the trip signal; trips less than `overload_merge_s` apart are one (the load
swings about the limit). Trips within the first `snatch_s` of a raise run are `overload_snatch` and are not counted
here. Measured is the time since the raise run began; a trip outside a raise run has none. A trip whose beginning is
not in the log is not counted.

Late trips mean a load that is too heavy, or a device that has drifted low: the load decides, where it is measured.
Source: common practice. Cost: one match of trips with raise runs.
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


SHOWS_RAISES_S = 0.2
"""Step [s] up to which the raise that a snatch ends shows (common practice: it lasts a few tenths of a second)."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Trips of the overload device that are no snatches."""
    raising = bool({"hoist.raise.contactor", "hoist.raise.command"} & context.carried)
    return (
        trips(context, p.overload_merge_s)
        .filter(~(pl.col("into_raise_s") <= p.snatch_s).fill_null(value=False))
        .with_columns(
            graded(
                (moved(pl.col("into_raise_s"), -context.uncertainty_s) > p.snatch_s)
                | (~pl.col("in_raise") & pl.lit(raising and context.step_s <= SHOWS_RAISES_S))
            ),
            signal=pl.lit("overload.trip"),
            measured="into_raise_s",
            limit=pl.lit(None, pl.Float64),
            direction=pl.when(pl.col("into_raise_s").is_not_null()).then(pl.lit("raise", schema.DIRECTION)),
        )
        .select(*FOUND, "signal")
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    raises = context.runs_of("hoist").filter((pl.col("direction") == "raise") & pl.col("start_seen")).height
    return f"{100 * found.height / raises:.1f} per 100 raise runs" if raises else ""


EXAMPLE = """
0.2 s
hoist.raise.command    ..############............
hoist.raise.contactor  ..##########..............
hoist.lower.command    ....................####..
overload.trip          ............########......
"""

PATTERN = Pattern(
    name="overload_trip",
    title="overload trip",
    parameters=Parameters,
    find=find,
    motions=("hoist",),
    needs=(("overload.trip",),),
    severity="watch",
    why_severity="the device did its work; what needs a person is how often and with what load",
    usually="a load that is too heavy, or an overload device that has drifted low",
    unit="s into the raise",
    look_back_s=600.0,
    describe=describe,
    example=EXAMPLE,
)
