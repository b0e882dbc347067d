"""Reversal without pause: the motion is driven the other way before it has come to rest.

Definition: a run that starts less than `reversal_pause_s` after the end of a run in the opposite direction; both edges
seen. It spans the pause. Both directions on at once are `opposed_directions`; what belongs to chatter or a common
drop-out is theirs.

Certain if the pause stays below the limit by more than two log steps, judged on contactors; possible if the limit lies
within them or where only commands are logged, since the controller may keep a pause of its own.
With a step above a tenth of the limit, where a pause that just suffices would be possible, only what is certain is
reported.
The motor brakes by being driven against its turning: current, heat and shock are those of several starts.
Source: common practice. Cost: a filter over the runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import reversal_pause_s
from eventlens.motion.kinds import of_last_ended
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, moved


@dataclass(frozen=True)
class Parameters:
    reversal_pause_s: float = reversal_pause_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Reversals of one motion without a pause."""
    u, most, pause = context.uncertainty_s, p.reversal_pause_s, pl.col("pause_s")
    runs = context.runs_of(motion).with_columns(
        _end_row=of_last_ended("end_row"), _with=of_last_ended("basis"), _end=of_last_ended("end")
    )
    contactors = (pl.col("basis") == "contactor") & (pl.col("_with") == "contactor")
    return (
        context.calm(runs.filter(pl.col("reversed") & (moved(pause, -u) < most)), motion)
        .with_columns(
            graded((moved(pause, u) < most) & contactors),
            start="_end",
            end="start",
            measured=pause,
            limit=pl.lit(most),
            rows=pl.concat_list("_end_row", "start_row"),
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    reversals = context.runs_of(motion)["reversed"].sum()
    return f"shortest {extent(found)[0]:.2f} s; {found.height} of {reversals} reversals"


EXAMPLE = """
0.1 s
bridge.forward.command    ..############............
bridge.reverse.command    ..............#########...
bridge.forward.contactor  ...###########............
bridge.reverse.contactor  ...............#########..
"""

PATTERN = Pattern(
    name="reversal_without_pause",
    title="reversal without a pause",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.+.contactor",), ("{motion}.+.command",)),
    severity="watch",
    why_severity="nothing is broken, but motor, gear and contactors take the stress of several starts, and loads swing",
    usually="a way of working, a reversing dwell that is set too short or missing",
    unit="s",
    look_back_s=600.0,
    exposure="start",
    finest=("reversal_pause_s",),
    coarsest=lambda p: round(p.reversal_pause_s / 10, 6),
    describe=describe,
    example=EXAMPLE,
)
