"""Opposed directions: the contactors of both directions of one motion are on at once.

Definition: both are known to be on together for more than `opposed_s`; it spans the time in which they are. A change
over in which one opens while the other closes stays below that.

Certain if it lasts longer than the limit by more than two log steps. Where a step is too coarse to show how long a
contactor takes to open, only what is certain is reported.
Two contactors closed at once short-circuit two phases; an interlock, electrical and mechanical, forbids it.
Source: common practice (a contactor opens in 0.004 to 0.02 s). Cost: one sweep over two signals.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.limits import limit
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded
from eventlens.patterns._together import apart, maybe_over, surely_over, together


@dataclass(frozen=True)
class Parameters:
    opposed_s: float = limit(
        0.03,
        "s",
        "common practice: contactors open in 0.004 to 0.02 s",
        "raising it misses short overlaps; lowering it takes the opening of a contactor for one",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Times in which both directions of one motion were on."""
    sides = [context.states.on(f"{motion}.{way}.contactor") for way in signals.MOTIONS[motion]]
    u, measured = context.uncertainty_s, pl.col("measured")
    both = together(*sides).filter(maybe_over(measured, p.opposed_s, u))
    return both.with_columns(
        graded(surely_over(measured, p.opposed_s, u)),
        limit=pl.lit(p.opposed_s),
        direction=pl.lit(None, schema.DIRECTION),
        rows=pl.concat_list("start_row", "end_row"),
    ).select(*FOUND)


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return f"longest {extent(found)[1]:.2f} s"


EXAMPLE = """
0.1 s
hoist.raise.command    ..########.............
hoist.lower.command    ..........#########....
hoist.raise.contactor  ...##########..........
hoist.lower.contactor  ...........#########...
"""

PATTERN = Pattern(
    name="opposed_directions",
    title="both directions on at once",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.+.contactor",),),
    severity="out_of_service",
    why_severity="two closed contactors short-circuit the supply, and the interlock against it has failed",
    usually="a welded or sticking contactor, an interlock bypassed or broken, crossed wiring since a repair",
    unit="s",
    look_back_s=600.0,
    exposure="start",
    coarsest=lambda p: apart(p.opposed_s, 0.0),
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
