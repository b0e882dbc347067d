"""Brake confirmed at rest: nothing drives the motion, and the brake still says that it is released.

Definition: the confirmation is on for more than `brake_rest_s` at a stretch while both directions are known to be off
(their contactors, or the commands where only those are logged). It spans the confirmation from on to off, so one that
stays on over many runs is one occurrence; measured is the longest stretch at rest. A confirmation that falls sooner is
at most `brake_apply_late`.

It may have come on at rest, stayed on after a run, or be stuck: the switch, or the brake itself. The log cannot tell
these apart, so the worse one counts. A contactor that stays on is no rest: see `contactor_stuck`.
Certain if the stretch exceeds the limit by more than two log steps and the step is fine enough to show every run.
Source: common practice. Cost: one sweep over confirmation and both directions.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.motion.near import latest
from eventlens.motion.runs import basis_of
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded
from eventlens.patterns._rest import brake_rest_s
from eventlens.patterns._together import surely_over, together


@dataclass(frozen=True)
class Parameters:
    brake_rest_s: float = brake_rest_s()


SHOWS_RUNS_S = 0.1
"""Step [s] up to which every run shows (common practice: jogs last 0.15 s and more)."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Times in which the brake of one motion confirmed at rest."""
    states, signal = context.states, f"{motion}.brake.released"
    ways = [f"{motion}.{way}.{basis_of(states, motion, way)}" for way in signals.MOTIONS[motion]]
    released = states.on(signal)
    rests = together(released, *(states.off(way) for way in ways), over_s=p.brake_rest_s)
    return (
        latest(rests, pl.col("start"), released, "own")
        .group_by("own_start", maintain_order=True)
        .agg(
            pl.col("own_end").first(),
            pl.col("measured").max(),
            rows=pl.concat_list("own_start_row", "start_row", "end_row", "own_end_row").list.explode(
                keep_nulls=False, empty_as_null=False
            ),
        )
        .with_columns(
            graded(
                surely_over(pl.col("measured"), p.brake_rest_s, context.uncertainty_s)
                & pl.lit(context.step_s <= SHOWS_RUNS_S)
            ),
            start="own_start",
            end="own_end",
            limit=pl.lit(p.brake_rest_s),
            direction=pl.lit(None, schema.DIRECTION),
            signal=pl.lit(signal),
        )
        .select(*FOUND, "signal")
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return f"longest {extent(found)[1]:.1f} s at rest"


EXAMPLE = """
0.1 s
hoist.raise.command    ..###########...........................
hoist.raise.contactor  ...##########...........................
hoist.lower.contactor  ........................................
hoist.brake.released   ....#################################...
"""

PATTERN = Pattern(
    name="brake_confirmed_at_rest",
    title="brake confirmed released at rest",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(
        ("{motion}.+.contactor", "{motion}.brake.released"),
        ("{motion}.+.command", "{motion}.brake.released"),
    ),
    severity="out_of_service",
    why_severity="the brake may be standing open with nothing else to hold the load",
    usually="a brake-release switch stuck or set wrongly, a brake that does not set, its supply left on",
    unit="s",
    look_back_s=86400.0,
    exposure="start",
    finest=("brake_rest_s",),
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
