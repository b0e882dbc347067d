"""Contactor late: the command is held, and the contactor closes, but much later than contactors do.

Definition: a direction's contactor closes more than `contactor_late_s` after its command, which is held until then, and
nothing explains the wait: no limit of the direction, overload device (raise), slack rope (lower), emergency stop, hot
motor, supply fault or opposite direction from `reversing_dwell_s` before the press on, no brake still setting, no run
the same way just before. If the contactor never comes it is `no_start`; what belongs to chatter or a common drop-out is
theirs.

Certain if the delay exceeds the limit by more than two log steps and every device that may have blocked is known to be
off or ruled out; possible otherwise. A step too coarse to keep a healthy contactor (0.1 s) clear of the limit leaves
only what is certain.
Source: common practice. Cost: one match for each blocking signal.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from eventlens import signals
from eventlens.limits import limit
from eventlens.motion.near import latest
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, nothing
from eventlens.patterns._refused import not_refused, surely_not
from eventlens.patterns._together import apart, maybe_over, surely_over


@dataclass(frozen=True)
class Parameters:
    contactor_late_s: float = limit(
        0.3,
        "s",
        "common practice: contactors close in 0.01 to 0.1 s",
        "raising it misses relays that hesitate; lowering it reports slow chains of relays",
    )
    reversing_dwell_s: float = limit(
        1.0,
        "s",
        "common practice: reversing dwells last up to 0.5 s, doubled to be sure",
        "raising it lets older events explain a wait; lowering it takes a dwell for a late contactor",
    )


AGAIN_S = 0.5
"""Lock against repeated starts [s] (common practice)."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Late starts of one motion."""
    parts = [
        _of_direction(context, motion, direction, p)
        for direction in signals.MOTIONS[motion]
        if {f"{motion}.{direction}.command", f"{motion}.{direction}.contactor"} <= context.carried
    ]
    return pl.concat([nothing(), *parts], how="vertical_relaxed").sort("start")


def _of_direction(context: Context, motion: str, direction: str, p: Parameters) -> pl.DataFrame:
    u, late, dwell = context.uncertainty_s, p.contactor_late_s, timedelta(seconds=p.reversing_dwell_s)
    measured = pl.col("contactor_delay_s")
    held = pl.col("command_off").is_null() | (pl.col("command_off") >= pl.col("start"))
    runs = context.runs_of(motion).filter((pl.col("direction") == direction) & maybe_over(measured, late, u) & held)
    if runs.is_empty():
        return nothing()
    asked = context.calm(
        runs.select("segment", "contactor_delay_s", "command_on_row", "start_row", start="command_on", end="start"),
        motion,
    )
    asked = _free(context, asked, f"{motion}.{direction}.contactor", AGAIN_S)
    asked = _free(context, asked, f"{motion}.brake.released", 0.0)
    # not_refused looks from `start` on: what blocked during the dwell before the press counts too
    early = asked.with_columns(pl.col("start") - dwell)
    asked = not_refused(early, context, motion, direction, p.reversing_dwell_s + late).with_columns(
        pl.col("start") + dwell
    )
    other = f"{motion}.{signals.opposite(motion, direction)}.contactor"
    sure = pl.lit(surely_not(asked, pl.col("end"), context, motion, direction)) & pl.lit(context.states.has(other))
    return asked.with_columns(
        graded(surely_over(measured, late, u) & sure),
        measured=measured,
        limit=pl.lit(late),
        direction=pl.lit(direction),
        rows=pl.concat_list("command_on_row", "start_row"),
    ).select(*FOUND)


def _free(context: Context, asked: pl.DataFrame, signal: str, before_s: float) -> pl.DataFrame:
    """The presses at which the signal was not on, nor in the time before [s]."""
    asked = latest(asked, pl.col("start"), context.states.on(signal), "busy")
    busy = pl.col("busy_end") > pl.col("start") - timedelta(seconds=before_s)
    kept = asked.filter(~busy.fill_null(value=False))
    return kept.drop([name for name in kept.columns if name.startswith("busy_")])


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    least, most = extent(found)
    return f"{least:.2f} to {most:.2f} s after the command"


EXAMPLE = """
0.1 s
hoist.raise.command    ..###################....
hoist.raise.contactor  .........############....
hoist.lower.contactor  .........................
hoist.raise.limit      .........................
hoist.motor.hot        .........................
stop.emergency         .........................
overload.trip          .........................
"""

PATTERN = Pattern(
    name="contactor_late",
    title="contactor closes late",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.command", "{motion}.*.contactor"),),
    severity="repair",
    why_severity="the motion starts when it is no longer expected, and the next try may fail",
    usually="a relay or contactor coil going weak, low control voltage, a worn interlock contact",
    unit="s",
    look_back_s=600.0,
    exposure="try",
    finest=("contactor_late_s",),
    coarsest=lambda p: apart(p.contactor_late_s, p.contactor_late_s / 3),
    describe=describe,
    example=EXAMPLE,
)
