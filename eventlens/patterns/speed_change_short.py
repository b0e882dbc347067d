"""Speed-change delay short: fast follows slow sooner than the timer should let it.

Definition: the fast output comes more than `speed_change_missing_s` after the directional contactor, but sooner than
`speed_change_least` times the set delay `speed_change_delay_s`. A delay of practically nothing is
`speed_change_missing`. Where the log's uncertainty reaches over either limit the finding is possible.

Not resolvable where two log steps reach from the setting down to the limit: every healthy start would be possible.

A timer that reads the same short value every time is wrongly set; one that scatters is failing.
Source: common practice (set to 0.3 to 0.5 s, about 0.40 s). Cost: a filter over the runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import limit, speed_change_delay_s, speed_change_missing_s
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, moved, proof
from eventlens.patterns._unasked import fast_already


@dataclass(frozen=True)
class Parameters:
    speed_change_missing_s: float = speed_change_missing_s()
    speed_change_delay_s: float = speed_change_delay_s()
    speed_change_least: float = limit(
        0.75,
        "share of the setting",
        "common practice: 0.3 s is the least for a timer set to 0.4 s",
        "raising it reports timers that drift a little; lowering it passes timers that are far off",
    )


def healthy_apart(p: Parameters) -> float:
    """The coarsest log step [s] at which a timer that keeps its setting is never taken for a short one."""
    return round((1 - p.speed_change_least) * p.speed_change_delay_s / 2, 6)


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Runs of one motion that stepped up too soon."""
    delay, u = pl.col("speed_change_delay_s"), context.uncertainty_s
    least = round(p.speed_change_least * p.speed_change_delay_s, 6)
    runs = context.calm_runs(motion)
    return (
        runs.filter(~fast_already(context, motion, runs))
        .filter((delay > p.speed_change_missing_s) & (moved(delay, -u) < least) & pl.col("start_seen"))
        .filter((delay < least) | (u > 0))
        .with_columns(
            proof(),
            graded((moved(delay, u) < least) & (moved(delay, -u) >= p.speed_change_missing_s)),
            end="fast_on",
            measured=delay,
            limit=pl.lit(least),
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    least, most = extent(found)
    return f"{least:.2f} to {most:.2f} s where {p.speed_change_delay_s:g} s is set"


EXAMPLE = """
0.05 s
hoist.raise.command    ..####################..
hoist.raise.contactor  ...####################.
hoist.fast.command     ...##################...
hoist.fast.contactor   .......################.
"""

PATTERN = Pattern(
    name="speed_change_short",
    title="speed-change delay short",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor", "{motion}.fast.contactor"), ("{motion}.*.command", "{motion}.fast.contactor")),
    severity="watch",
    why_severity="the step is still there, but it no longer protects as set",
    usually="a speed-change timer wrongly set or failing",
    unit="s",
    look_back_s=60.0,
    exposure="fast_run",
    finest=("speed_change_delay_s",),
    coarsest=healthy_apart,
    describe=describe,
    example=EXAMPLE,
)
