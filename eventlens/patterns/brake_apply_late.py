"""Brake applies late: the motor is off, and the brake still confirms that it is released for longer than it should.

Definition: the confirmation falls more than `brake_apply_s`, but no more than `brake_rest_s`, after the end of a run
and before the next one. Longer than that is `brake_confirmed_at_rest`. What belongs to chatter or a common drop-out is
theirs.

Certain if the time exceeds the limit by more than two log steps and no run of a direction that is not logged can have
held the brake open; possible otherwise. A step too coarse to keep a healthy brake (0.3 s) clear of the limit leaves
only what is certain.
On a hoist the load drifts down in the meantime.
Source: common practice. Cost: a filter over the runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import limit
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded
from eventlens.patterns._rest import brake_rest_s
from eventlens.patterns._together import apart, maybe_over, surely_over


@dataclass(frozen=True)
class Parameters:
    brake_apply_s: float = limit(
        0.5,
        "s",
        "common practice: brakes apply within 0.05 to 0.3 s",
        "raising it lets a slow brake pass; lowering it reports healthy large brakes",
    )
    brake_rest_s: float = brake_rest_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Runs of one motion after which the brake set late."""
    runs = context.calm_runs(motion)
    # where only commands are logged, a drive may ramp down for a second after the command
    runs = runs.filter(pl.col("basis") == "contactor")
    both = all(context.states.has(f"{motion}.{way}.contactor") for way in signals.MOTIONS[motion])
    u, measured = context.uncertainty_s, pl.col("apply_time_s")
    return (
        runs.filter(maybe_over(measured, p.brake_apply_s, u) & (measured <= p.brake_rest_s))
        .with_columns(
            graded(surely_over(measured, p.brake_apply_s, u) & pl.lit(both)),
            start="end",
            end="brake_off",
            measured=measured,
            limit=pl.lit(p.brake_apply_s),
            rows=pl.concat_list("end_row", "brake_off_row"),
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    least, most = extent(found)
    lowered = found.filter(pl.col("direction") == "lower").height
    return f"{least:.2f} to {most:.2f} s" + (f"; {lowered} of them after lowering" if lowered else "")


EXAMPLE = """
0.1 s
hoist.raise.command    ..###########.............
hoist.raise.contactor  ...##########.............
hoist.lower.contactor  ..........................
hoist.brake.released   ....################......
"""

PATTERN = Pattern(
    name="brake_apply_late",
    title="brake applies late",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor", "{motion}.brake.released"),),
    severity="repair",
    why_severity="the load drifts down before the brake holds it, and travel overruns: serious",
    usually="worn or oily linings, a residual field or slow switching on the AC side, a switch that sticks",
    unit="s",
    look_back_s=600.0,
    exposure="start",
    finest=("brake_apply_s",),
    coarsest=lambda p: apart(p.brake_apply_s, 0.6 * p.brake_apply_s),
    describe=describe,
    example=EXAMPLE,
)
