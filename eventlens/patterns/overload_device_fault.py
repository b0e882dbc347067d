"""Overload device fault: the overload device reports a fault of its own.

Definition: the fault signal is on; it spans on to off. Faults less than `overload_merge_s` apart are one. One that is
on when the log begins counts too, from there. A fault that comes and goes with a common drop-out is that. Measured is
how long it stood.

A device that cannot judge the load guards nothing: no lifting until it is repaired, whatever it still lets through.
Certain: the device says so.
Source: common practice. Cost: a pass over the changes of one signal.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.motion.near import seconds
from eventlens.motion.spells import during
from eventlens.patterns._base import FOUND, Context, Pattern, graded
from eventlens.patterns._overload import overload_merge_s


@dataclass(frozen=True)
class Parameters:
    overload_merge_s: float = overload_merge_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Faults of the overload device."""
    on = context.states.on("overload.fault")
    after = context.endings.explained_within_s + context.uncertainty_s
    dips = [during(on, at, context.common, context.uncertainty_s, after) for at in ("start", "end")]
    on = on.filter(~(dips[0] & dips[1] & on["end_seen"]))
    apart = seconds("start", pl.col("end").shift(1)) >= p.overload_merge_s
    new = (apart | (pl.col("segment") != pl.col("segment").shift(1))).fill_null(value=True)
    return (
        on.group_by(new.cum_sum().alias("fault"), maintain_order=True)
        .agg(
            pl.col("start").first(),
            pl.col("end").last(),
            rows=pl.concat_list("start_row", "end_row").list.explode(keep_nulls=False, empty_as_null=False),
        )
        .with_columns(
            graded(pl.lit(value=True)),
            signal=pl.lit("overload.fault"),
            measured=seconds("end", "start"),
            limit=pl.lit(None, pl.Float64),
            direction=pl.lit(None, schema.DIRECTION),
        )
        .select(*FOUND, "signal")
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    last = found.row(-1, named=True)
    raises = context.runs_of("hoist").filter((pl.col("direction") == "raise") & pl.col("start_seen"))
    lifted = sum(raises.filter(pl.col("start").is_between(a, b)).height for a, b in found.select("start", "end").rows())
    lasting = "; the last one stood to the end of the log" if _unended(context, last["end"]) else ""
    return f"{lifted} raise runs began while it stood{lasting}"


def _unended(context: Context, end: object) -> bool:
    on = context.states.on("overload.fault")
    return bool(on.filter((pl.col("end") == end) & ~pl.col("end_seen")).height) and on["end"].max() == end


EXAMPLE = """
0.2 s
hoist.raise.command    ..############............
hoist.raise.contactor  ..##########..............
overload.fault         ...........##########.....
"""

PATTERN = Pattern(
    name="overload_device_fault",
    title="overload device fault",
    parameters=Parameters,
    find=find,
    motions=("hoist",),
    needs=(("overload.fault",),),
    severity="out_of_service",
    why_severity="nothing guards the machine against overload: no lifting until the device is repaired",
    usually="the load sensor, its cable or plug, the device itself",
    unit="s",
    look_back_s=600.0,
    exposure="observed_h",
    describe=describe,
    example=EXAMPLE,
)
