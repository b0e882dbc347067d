"""Brake confirmation lost: the brake has released, and its confirmation goes while the motor still drives.

Definition: the confirmation falls during a run and is off for more than `confirmation_lost_s` before it comes back or
the run ends. Left out: what falls after the command was let go (a drive sets the brake before its output goes off) or
within that time of the run's end, the brake still setting after a quick restart, and a loss that ends the run as
`drop_out` at once. What belongs to chatter or a common drop-out is theirs.

Certain if it exceeds the limit by more than two log steps and the command is known to be held; possible otherwise. A
contact bounces for some milliseconds: a step too coarse to show that leaves only what is certain.
Either the switch lets go, or the brake closes on a turning motor.
Source: common practice. Cost: one match of the confirmation with runs.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from eventlens import signals
from eventlens.limits import limit
from eventlens.motion.near import seconds
from eventlens.motion.spells import during
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, nothing
from eventlens.patterns._together import apart, maybe_over, surely_over


@dataclass(frozen=True)
class Parameters:
    confirmation_lost_s: float = limit(
        0.05,
        "s",
        "common practice: a contact bounces for about 0.005 s, a relay drops in 0.02 s",
        "raising it misses a switch that shakes; lowering it reports bouncing contacts",
    )


SETTING_S = 0.5
"""A brake sets within this time after the stop before [s] (common practice: 0.05 to 0.5 s)."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Losses of the confirmation during runs of one motion."""
    u, least = context.uncertainty_s, p.confirmation_lost_s
    runs = context.calm_runs(motion).filter(pl.col("basis") == "contactor")
    losses = context.states.off(f"{motion}.brake.released").filter("start_seen")
    losses = losses.filter(during(losses, "start", runs, 0.0, 0.0))
    if losses.is_empty():
        return nothing()
    frame = losses.select(
        lost="start", back="end", lost_row="start_row", back_row="end_row", own=pl.col("segment")
    ).join_where(runs, pl.col("lost") > pl.col("start"), pl.col("lost") < pl.col("end"))
    setting = (pl.col("brake_on") >= pl.col("lost")) & (
        pl.col("lost") <= pl.col("start") + timedelta(seconds=SETTING_S)
    )
    let_go = pl.col("lost") >= pl.col("command_off") - timedelta(seconds=u)
    at_end = seconds("end", "lost") <= max(u, least)
    dropped = (pl.col("ending") == "dropped_out") & (seconds("end", "lost") <= context.endings.explained_within_s + u)
    left_out = [part.fill_null(value=False) for part in (setting, let_go, at_end & pl.col("end_seen"), dropped)]
    held = pl.col("command_on").is_not_null()
    measured = pl.col("measured")
    spans = frame.filter(~pl.any_horizontal(left_out)).with_columns(until=pl.min_horizontal("back", "end"))
    alone = context.undisturbed(spans.select(start="lost", end="until", segment="own"), motion)
    return (
        spans.filter(alone)
        .with_columns(measured=seconds("until", "lost"))
        .filter(maybe_over(measured, least, u))
        .with_columns(
            graded(surely_over(measured, least, u) & held),
            start="lost",
            end="until",
            limit=pl.lit(least),
            rows=pl.concat_list("lost_row", "back_row", "start_row", "end_row"),
        )
        .select(*FOUND)
        .sort("start")
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    least, most = extent(found)
    return f"gone for {least:.2f} to {most:.2f} s"


EXAMPLE = """
0.1 s
hoist.raise.command    ..##########################....
hoist.raise.contactor  ...##########################...
hoist.brake.released   ....##########....############..
"""

PATTERN = Pattern(
    name="brake_confirmation_lost",
    title="brake confirmation lost while running",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor", "{motion}.brake.released"),),
    severity="repair",
    why_severity="the brake may be closing on a turning motor, and the next loss may stop the load",
    usually="a brake-release switch that is loose or set to its edge, its cable, brake voltage that sags under load",
    unit="s",
    look_back_s=600.0,
    exposure="running_h",
    finest=("confirmation_lost_s",),
    coarsest=lambda p: apart(p.confirmation_lost_s, 0.1 * p.confirmation_lost_s),
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
