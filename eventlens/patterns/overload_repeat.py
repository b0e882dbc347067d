"""Repeated attempt: after an overload trip the operator raises again instead of lowering.

Definition: a raise command (raise run, where no command is logged) that begins after a trip of the overload device
began, no later than `overload_repeat_s` after it, with no lowering in between. Each attempt is one. It spans the
command.

After a true trip comes a lower, or nothing; whoever tries again should be spoken to, or the device is not believed
because it trips too early.
Certain where lowering is known; without it the finding is possible.
Source: common practice. Cost: two matches of raise commands, with trips and with lowering.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.limits import limit
from eventlens.motion.doubt import is_known
from eventlens.motion.near import latest, seconds
from eventlens.patterns._base import FOUND, Context, Pattern, graded, moved, nothing
from eventlens.patterns._overload import overload_merge_s, trips


@dataclass(frozen=True)
class Parameters:
    overload_merge_s: float = overload_merge_s()
    overload_repeat_s: float = limit(
        30.0,
        "s",
        "common practice, no source: right away",
        "raising it takes a new lift for a repeated attempt; lowering it misses patient operators",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Raise commands soon after a trip without lowering in between."""
    states, u = context.states, context.uncertainty_s
    raising = next((n for n in ("hoist.raise.command", "hoist.raise.contactor") if states.has(n)), "")
    lowering = [n for n in ("hoist.lower.command", "hoist.lower.contactor") if states.has(n)]
    tripped = trips(context, p.overload_merge_s)
    if tripped.is_empty():
        return nothing()
    tried = (
        states.on(raising)
        .filter("start_seen")
        .join_asof(
            tripped.select(
                pl.col("start").alias("trip"), pl.col("rows").alias("trip_rows"), pl.col("segment").alias("of")
            ),
            left_on="start",
            right_on="trip",
            strategy="backward",
            allow_exact_matches=False,
        )
    )
    since = seconds("start", "trip")
    tried = tried.filter((since <= p.overload_repeat_s) & (pl.col("of") == pl.col("segment")))
    tried = latest(tried, pl.col("start"), states.on(*lowering), "lower")
    tried = tried.filter((pl.col("lower_end") <= pl.col("trip")).fill_null(value=True))
    seen = [pl.lit(is_known(tried, pl.col("start"), states, name)) for name in lowering]
    return tried.with_columns(
        graded(pl.any_horizontal(pl.lit(value=False), *seen) & (moved(since, u) <= p.overload_repeat_s)),
        signal=pl.lit("overload.trip"),
        measured=since,
        limit=pl.lit(p.overload_repeat_s),
        direction=pl.lit("raise", schema.DIRECTION),
        rows=pl.concat_list("start_row", "end_row", "trip_rows"),
    ).select(*FOUND, "signal")


EXAMPLE = """
0.2 s
hoist.raise.command    ..#########.......####....
hoist.raise.contactor  ..########................
hoist.lower.contactor  ..........................
overload.trip          ..........############....
"""

PATTERN = Pattern(
    name="overload_repeat",
    title="raised again after an overload trip",
    parameters=Parameters,
    find=find,
    motions=("hoist",),
    needs=(("overload.trip", "hoist.raise.command"), ("overload.trip", "hoist.raise.contactor")),
    severity="watch",
    why_severity="somebody works against the overload device; a person should know",
    usually="a way of working, or a device that trips too early and is not believed",
    unit="s after the trip",
    look_back_s=600.0,
    exposure="lift",
    finest=("overload_repeat_s",),
    example=EXAMPLE,
)
