"""Fast not reached: fast is commanded while the motion runs, and the fast output never comes.

Definition: the fast command was held while a run lasted for at least `fast_reach_s` and the fast output stayed off,
and no slow-down limit of the direction was operated before that. It spans the fast command. What belongs to `chatter`
or to a common drop-out is none; three in a row are a `lost_function` too.
Certain where the slow-down limit and the contactor of that direction are logged; without them a slow-down zone, or a
motion that did not start, could be the reason and the finding is possible.
Source: common practice. Cost: one match of fast commands with runs and output.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.patterns._base import FOUND, Context, Pattern, graded
from eventlens.patterns._tries import fast_reach_s, fast_tries


@dataclass(frozen=True)
class Parameters:
    fast_reach_s: float = fast_reach_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Fast commands of one motion that were held in vain."""
    return (
        fast_tries(context, motion, p.fast_reach_s)
        .filter("failed")
        .with_columns(graded(pl.col("sure")), limit=pl.lit(p.fast_reach_s), rows=pl.concat_list("start_row", "end_row"))
        .select(*FOUND)
    )


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
    exposure="fast_try",
    finest=("fast_reach_s",),
    absence=True,
    example=EXAMPLE,
)
