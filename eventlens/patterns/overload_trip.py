"""Overload trip: the overload device cuts the lifting motion.

Definition: one trip is one stretch of the trip signal; trips less than `overload_merge_s` apart are one (the load
swings about the limit). Trips within the first `snatch_s` of a raise run are `overload_snatch` and are not counted
here. Measured is the time since the raise run began; a trip outside a raise run has none. A trip whose beginning is
not in the log is not counted.

Late trips mean a load that is too heavy, or a device that has drifted low: the load decides, where it is measured. A
trip of which the highest load until then (and half a second after) stays below `trip_low_share` of the rated load says
that the device is set low or its sensor drifts. Motor current decides nothing: after the starting current it only shows
how much more the motor drew than in the lightest raises, and without load it draws much of its current too.
Source: common practice; devices are set from 1.10 to 1.25 of the rated load (tests of the Machinery Directive
2006/42/EC, Annex I 4.1.2.3). Cost: one match of trips with raise runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.limits import limit
from eventlens.patterns import _weight
from eventlens.patterns._base import FOUND, Context, Pattern, graded, moved, nothing
from eventlens.patterns._overload import overload_merge_s, snatch_s, trips


@dataclass(frozen=True)
class Parameters:
    overload_merge_s: float = overload_merge_s()
    snatch_s: float = snatch_s()
    trip_low_share: float = limit(
        0.9,
        "share of the rated load",
        "common practice: devices are set to 1.10 or more; a tenth of the rated load for the scale's error",
        "raising it calls a device low that trips a little early; lowering it misses one that drifts",
    )


SHOWS_RAISES_S = 0.2
"""Step [s] up to which the raise that a snatch ends shows (common practice: it lasts a few tenths of a second)."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Trips of the overload device that are no snatches."""
    tripped = trips(context, p.overload_merge_s)
    if tripped.is_empty():
        return nothing()
    raising = bool({"hoist.raise.contactor", "hoist.raise.command"} & context.carried)
    return (
        tripped.filter(~(pl.col("into_raise_s") <= p.snatch_s).fill_null(value=False))
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
    often = f"{100 * found.height / raises:.1f} per 100 raise runs" if raises else ""
    return "; ".join(text for text in (often, _weighed(context, found, p)) if text)


def _weighed(context: Context, found: pl.DataFrame, p: Parameters) -> str:
    """What load or current say of these trips; empty where neither is logged."""
    own = trips(context, p.overload_merge_s).join(found, on="start", how="semi")
    if context.load is None:
        return _drawn(context, own)
    if not context.load.rated:
        return "the load is measured, but whether it is heavy needs rated_load_kg in the machine file"
    shares = _weight.highest(_weight.attempts(own), context.load)["share"]
    if shares.is_empty():
        return "the load was recorded at none of them"
    low, heavy = shares.filter(shares < p.trip_low_share), shares.filter(shares >= 1.0)
    below = f"{100 * p.trip_low_share:g} %"
    parts = []
    if len(heavy):
        parts.append(f"{len(heavy)} lifted the rated load or more: too heavy")
    if between := len(shares) - len(low) - len(heavy):
        parts.append(f"{between} came from {below} of the rated load up to it: early, but within the error of a scale")
    if len(low):
        least = f"{100 * float(low.min() or 0.0):.0f} %"  # type: ignore[arg-type]
        parts.append(
            f"{len(low)} came below {below} of the rated load (the lowest {least}): the device is set low or its "
            "sensor drifts"
        )
    return f"of {len(shares)} with a measured load {'; '.join(parts)}"


def _drawn(context: Context, own: pl.DataFrame) -> str:
    """What the motor current of these raises can show, which is little."""
    drawn = _weight.running_current(context)
    tried = _weight.attempts(own).select("start")
    here = drawn.join(tried, on="start", how="semi")["current_a"].median()
    idle = drawn["current_a"].quantile(0.1) if drawn.height >= _weight.RUNS_FOR_IDLE else None
    if not isinstance(here, float) or not idle:
        return ""
    return (
        f"no load is measured; after the starting current the motor drew {here / idle:.2f} times what it draws in the "
        "lightest raises: a hint at the load, no weight, since a motor draws much of its current without any"
    )


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
    exposure="lift",
    describe=describe,
    example=EXAMPLE,
)
