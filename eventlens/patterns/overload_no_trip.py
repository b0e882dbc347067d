"""Overload without a trip: more than the device may ever let pass is lifted, and it does not trip.

Definition: while the hoist raises, the load is known to lie above `no_trip_share` of the rated load for `no_trip_s` or
longer, and the trip is known to be off all that time. It spans that stretch; measured is the mean load over it, in
shares of the rated load.

Certain only where it can hardly be the scale: the load came up to this level while the hoist was raising, two records
at least say so, and none shows more than a motor can lift. Possible otherwise, and where the length lies within two
log steps of the limit. Peaks and swings are shorter. Before anything else compare the rated load in the machine file
with the plate (number of rope falls).
Source: an indirect overload device acts at 1.25 of the rated load at the latest (EN 14492-2, from memory).
Cost: one pass over the load, and a match with raising.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.duty.load import above, weighed
from eventlens.limits import limit
from eventlens.machine import Machine
from eventlens.motion.near import latest
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, moved, nothing
from eventlens.patterns._together import apart, together

STALLS: Final = 2.0
"""Share of the rated load above which the motor stalls rather than lifts (from memory: two to three times)."""


@dataclass(frozen=True)
class Parameters:
    no_trip_share: float = limit(
        1.25,
        "share of the rated load",
        "from memory: EN 14492-2, triggering factor of indirect devices at most 1.25",
        "raising it waits for heavier loads; lowering it reports devices that are set within their window",
    )
    no_trip_s: float = limit(
        2.0,
        "s",
        "common practice: devices filter and hold for up to about a second",
        "raising it misses short lifts; lowering it takes swings and slow devices for dead ones",
    )


def healthy_apart(p: Parameters) -> float:
    """The coarsest log step [s] at which a device that trips in half the time is never taken for a dead one."""
    return apart(p.no_trip_s, p.no_trip_s / 2)


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Stretches of raising with far too heavy a load and no trip."""
    if context.load is None or not context.load.rated:
        return nothing()
    raising = next(n for n in ("hoist.raise.contactor", "hoist.raise.command") if n in context.carried)
    heavy = above(context.load, p.no_trip_share)
    sides = (context.states.on(raising), context.states.off("overload.trip"), heavy)
    length, u = pl.col("measured"), context.uncertainty_s
    found = together(*sides).filter(moved(length, u) >= p.no_trip_s)
    found = found.join_asof(
        _trusted(context, heavy, raising).select("came", "trusted", "proof"), left_on="start", right_on="came"
    ).with_row_index("n")
    mean = (
        weighed(found, context.load.steps)
        .group_by("n", maintain_order=True)
        .agg(mean=((pl.col("ratio") * pl.col("s")).sum() / pl.col("s").sum()).round(6))
    )
    return (
        found.join(mean, on="n", how="left", maintain_order="left")
        .with_columns(
            graded((moved(length, -u) >= p.no_trip_s) & pl.col("trusted")),
            signal=pl.lit("overload.trip"),
            measured="mean",
            limit=pl.lit(p.no_trip_share),
            direction=pl.lit("raise", schema.DIRECTION),
            rows=pl.concat_list("start_row", "end_row", "proof"),
        )
        .select(*FOUND, "signal")
    )


def _trusted(context: Context, heavy: pl.DataFrame, raising: str) -> pl.DataFrame:
    """The heavy stretches (came, trusted, proof: their lines): it is trusted where the hoist raised the load to it."""
    runs = latest(heavy, pl.col("start"), context.states.on(raising), "run")
    steps = context.load.steps if context.load else heavy.clear()
    lighter = heavy["start"].is_in(steps["end"].implode())  # it was known to be lighter just before
    return runs.select(
        came="start",
        trusted=pl.Series(lighter)
        & (pl.col("run_end") >= pl.col("start")).fill_null(value=False)
        & (pl.col("records") >= 2)
        & (pl.col("highest") <= STALLS),
        proof=pl.concat_list("start_row", "end_row"),
    )


def missing_rating(machine: Machine, motion: str, carried: frozenset[str]) -> str | None:
    """The machine-file key without which kilograms say nothing."""
    known = machine.machine.rated_load_kg or "load.percent" in carried
    return None if known else "machine file: [machine] rated_load_kg"


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return (
        f"up to {100 * extent(found)[1]:.0f} % of the rated load was lifted; the device may not trip, or the scale or "
        "the rated load in the machine file is wrong"
    )


EXAMPLE = """
0.2 s
hoist.raise.command    ..####################....
hoist.raise.contactor  ..####################....
overload.trip          ..........................
load.kg*600            00012357788877777777777770
"""

PATTERN = Pattern(
    name="overload_no_trip",
    title="overload without a trip",
    parameters=Parameters,
    find=find,
    motions=("hoist",),
    needs=tuple(
        ("overload.trip", load, f"hoist.raise.{kind}")
        for load in ("load.kg", "load.percent")
        for kind in ("contactor", "command")
    ),
    severity="out_of_service",
    why_severity="nothing may guard the machine against overload: no lifting until device and scale are tested",
    usually="an overload device that is bridged, set high or dead; a test with weights; a scale that is wrong",
    unit="share of the rated load",
    look_back_s=600.0,
    exposure="lift",
    coarsest=healthy_apart,
    setting=missing_rating,
    describe=describe,
    example=EXAMPLE,
)
