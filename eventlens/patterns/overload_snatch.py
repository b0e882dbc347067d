"""Overload by snatch: the overload device trips in the first moment of a raise.

Definition: a trip (see `overload_trip`) no later than `snatch_s` after the raise run began. The load was picked up at
speed or from a slack rope: the dynamic peak trips the device, not the weight. Where the log's uncertainty reaches over
the limit it is possible.

Where the load is recorded closely enough (every tenth of a second while it grows) its slope decides: from
`snatch_slope` on it confirms a snatch; up to `gentle_slope` it denies one, and the finding is only possible: the load
came slowly, so it was too heavy, or the device is set low (or the scale itself is slow). The motor current of that
first second is the starting current and says nothing of the load.
Source: common practice (0.7 to 1 s). Cost: one match of trips with raise runs.
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
    snatch_slope: float = limit(
        3.0,
        "rated loads per second",
        "from memory: rope and structure give 20 to 80 mm under the rated load, fast is 6 to 15 m/min",
        "raising it confirms only hard snatches; lowering it calls quick but ordinary pick-ups snatches",
    )
    gentle_slope: float = limit(
        1.0,
        "rated loads per second",
        "from memory: as above, slow is 1 to 3 m/min",
        "raising it denies snatches in soft ropes; lowering it leaves slow pick-ups undecided",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Trips of the overload device in the first moment of a raise."""
    early = trips(context, p.overload_merge_s).filter(pl.col("into_raise_s") <= p.snatch_s)
    if early.is_empty():
        return nothing()
    slow = _slopes(context, early).filter(pl.col("most") <= p.gentle_slope)["trip"]
    return early.with_columns(
        graded(
            (moved(pl.col("into_raise_s"), context.uncertainty_s) <= p.snatch_s)
            & ~pl.col("start").is_in(slow.implode())
        ),
        signal=pl.lit("overload.trip"),
        measured="into_raise_s",
        limit=pl.lit(p.snatch_s),
        direction=pl.lit("raise", schema.DIRECTION),
    ).select(*FOUND, "signal")


def _slopes(context: Context, early: pl.DataFrame) -> pl.DataFrame:
    """How fast the load grew before these trips, where that shows (_weight.slopes)."""
    if context.load is None or not context.load.rated:
        return pl.DataFrame(schema={"trip": schema.TIME, "least": pl.Float64, "most": pl.Float64})
    return _weight.slopes(_weight.attempts(early), context.load, context.uncertainty_s)


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    """What the slope of the load says of them."""
    early = trips(context, p.overload_merge_s).join(found, on="start", how="semi")
    if context.load is None:
        blind = "hoist.motor.current_a" in context.carried
        return (
            "no load is measured; the motor current so soon is starting current and says nothing of it" if blind else ""
        )
    grown = _slopes(context, early)
    if grown.is_empty():
        return ""
    hard, gentle = (grown.filter(pl.col("least") >= p.snatch_slope), grown.filter(pl.col("most") <= p.gentle_slope))
    parts = []
    if hard.height:
        steepest = float(hard["least"].max() or 0.0)  # type: ignore[arg-type]
        parts.append(f"confirms {hard.height} (up to {steepest:.1f} rated loads per second)")
    if gentle.height:
        parts.append(
            f"denies {gentle.height}: picked up slowly, so too heavy, or the device is set low, or the scale is slow"
        )
    if rest := grown.height - hard.height - gentle.height:
        parts.append(f"leaves {rest} open")
    return f"of {grown.height} with a load recorded closely enough its slope {', '.join(parts)}"


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
    exposure="lift",
    finest=("snatch_s",),
    describe=describe,
    example=EXAMPLE,
)
