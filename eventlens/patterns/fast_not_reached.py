"""Fast not reached: fast is commanded while the motion runs, and the fast output never comes.

Definition: the fast command was held while a run lasted for at least `fast_reach_s` and the fast output stayed off,
and no slow-down limit of the direction was operated before that. It spans the fast command.
Certain where the slow-down limit of that direction is logged; without it a slow-down zone could be the reason and the
finding is possible.
Source: common practice. Cost: one match of fast commands with runs and output.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import limit
from eventlens.motion.near import following, latest, seconds
from eventlens.patterns._base import FOUND, Context, Pattern, graded, moved


@dataclass(frozen=True)
class Parameters:
    fast_reach_s: float = limit(
        1.0,
        "s",
        "common practice: set delay of 0.3 to 0.5 s plus contactor times, doubled to be sure",
        "raising it misses short presses; lowering it takes a long set delay for a lost function",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Fast commands of one motion that were held in vain."""
    states, output = context.states, f"{motion}.fast.contactor"
    asked = states.on(f"{motion}.fast.command").filter("start_seen")
    asked = latest(asked, pl.col("start"), states.off(output), "idle")
    asked = following(asked, pl.col("start"), states.on(output), "reached")
    in_vain = (pl.col("idle_end") >= pl.col("end")) & ~(pl.col("reached_start") <= pl.col("end")).fill_null(value=False)
    asked = asked.filter(in_vain.fill_null(value=False))
    runs = context.runs_of(motion).select("direction", run_start="start", run_end="end")
    together = asked.join_where(runs, pl.col("start") < pl.col("run_end"), pl.col("end") > pl.col("run_start"))
    measured = seconds(pl.min_horizontal("end", "run_end"), pl.max_horizontal("start", "run_start"))
    # of several runs under one command the longest counts: in a short one fast had no time to come
    longest = (
        together.with_columns(measured=measured)
        .sort("start", "measured", "run_start")
        .group_by("start", maintain_order=True)
        .last()
        .filter(pl.col("measured") >= p.fast_reach_s)
    )
    parts = [_of_direction(context, longest, motion, direction, p) for direction in signals.MOTIONS[motion]]
    return pl.concat(parts).sort("start")


def _of_direction(context: Context, asked: pl.DataFrame, motion: str, direction: str, p: Parameters) -> pl.DataFrame:
    """Those of one direction that its slow-down limit does not explain."""
    slowdown = f"{motion}.{direction}.slowdown"
    own = latest(asked.filter(pl.col("direction") == direction), pl.col("end"), context.states.on(slowdown), "slow")
    # a slow-down zone that was reached only after fast had already failed to come explains nothing
    failed = pl.max_horizontal("start", "run_start") + pl.duration(microseconds=round(p.fast_reach_s * 1e6))
    own = own.filter(~((pl.col("slow_end") > pl.col("start")) & (pl.col("slow_start") < failed)).fill_null(value=False))
    sure = pl.lit(context.states.has(slowdown)) & (moved(pl.col("measured"), -context.uncertainty_s) >= p.fast_reach_s)
    return own.with_columns(
        graded(sure), limit=pl.lit(p.fast_reach_s), rows=pl.concat_list("start_row", "end_row")
    ).select(*FOUND)


EXAMPLE = """
0.1 s
hoist.raise.command    ..####################..
hoist.raise.contactor  ...####################.
hoist.fast.command     ...##################...
hoist.fast.contactor   ........................
hoist.raise.slowdown   ........................
"""

PATTERN = Pattern(
    name="fast_not_reached",
    title="fast not reached",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(
        ("{motion}.fast.command", "{motion}.fast.contactor", "{motion}.*.contactor"),
        ("{motion}.fast.command", "{motion}.fast.contactor", "{motion}.*.command"),
    ),
    severity="repair",
    why_severity="the function is lost",
    usually="the fast contactor or its coil, the speed-change timer, the second step of the button",
    unit="s held while running",
    look_back_s=600.0,
    finest=("fast_reach_s",),
    example=EXAMPLE,
)
