"""Speed-change delay missing: fast comes on at once, with no slow step before it.

Definition: the fast output comes no later than `speed_change_missing_s` after the directional contactor, or is on when
it closes. Judged on the output, never on the button: an operator may press both steps at once, the timer must not let
it through. A delay that exists but is too small is `speed_change_short`.

Left out are runs that find the fast output on already because it hangs (`contactor_stuck`) or came by itself.
On a hoist the load is snatched or dropped at full speed; on a travel motion the step-up delay lets the load follow, and
fast at once makes it swing.
Source: common practice (anti-jog timers are set to 0.3 to 0.5 s). Cost: a filter over the runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import speed_change_missing_s
from eventlens.patterns._base import FOUND, Context, Pattern, graded, moved, proof
from eventlens.patterns._unasked import fast_already


@dataclass(frozen=True)
class Parameters:
    speed_change_missing_s: float = speed_change_missing_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Runs of one motion that began in fast."""
    delay, most = pl.col("speed_change_delay_s"), p.speed_change_missing_s
    runs = context.calm_runs(motion)
    return (
        runs.filter(~fast_already(context, motion, runs))
        .filter((delay <= most) & pl.col("start_seen"))
        .with_columns(
            proof(),
            graded(moved(delay, context.uncertainty_s) <= most),
            end="fast_on",
            measured=delay,
            limit=pl.lit(most),
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    stepped = context.runs_of(motion)["speed_change_delay_s"].count()
    return f"{found.height} of {stepped} runs that went to fast"


EXAMPLE = """
0.05 s
hoist.raise.command    ..####################..
hoist.raise.contactor  ...####################.
hoist.fast.command     ...##################...
hoist.fast.contactor   ....###################.
"""

PATTERN = Pattern(
    name="speed_change_missing",
    title="speed-change delay missing",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor", "{motion}.fast.contactor"), ("{motion}.*.command", "{motion}.fast.contactor")),
    severity="repair",
    why_severity="every start in fast strikes rope, gear and brake; on travel motions the load swings",
    usually="the speed-change timer bypassed, failed or wired out, often since a repair",
    unit="s",
    look_back_s=60.0,
    exposure="fast_run",
    finest=("speed_change_missing_s",),
    describe=describe,
    example=EXAMPLE,
)
