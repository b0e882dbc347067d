"""Brake not confirmed: the motor is energised and the brake's release is never confirmed.

Definition: a run whose confirmation stayed off from start to end although it lasted at least `brake_release_s` and then
dropped out, or at least `brake_confirm_s` however it ended. Most controllers give up after a time-out of 0.8 to 2 s:
the hoist starts and drops out at once. Shorter runs prove nothing: a slow brake may just not have been ready. A
confirmation that came and went is `drop_out`.

Either the switch does not close, or the brake does not lift and the motor works against it; the log alone cannot tell
these two apart, motor current or movement can.
Source: common practice. Cost: one match of runs with the confirmation.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import brake_release_s, limit
from eventlens.motion.kinds import never_confirmed
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, moved, proof


@dataclass(frozen=True)
class Parameters:
    brake_release_s: float = brake_release_s()
    brake_confirm_s: float = limit(
        1.0,
        "s",
        "common practice: controllers give up after 0.8 to 2 s",
        "raising it passes runs that an impatient operator ended; lowering it reports slow brakes as faulty",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Runs of one motion without confirmation."""
    runs = context.runs_of(motion)
    gave_up = pl.col("ending") == "dropped_out"
    least = pl.when(gave_up).then(p.brake_release_s).otherwise(p.brake_confirm_s)
    return (
        runs.filter(never_confirmed(runs, context.states, motion) & runs["start_seen"])
        .filter(pl.col("duration_s") >= least)
        .with_columns(
            proof(),
            graded(moved(pl.col("duration_s"), -context.uncertainty_s) >= least),
            measured="duration_s",
            limit=least,
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    least, most = extent(found)
    return f"the runs lasted {least:.2f} to {most:.2f} s without it"


PATTERN = Pattern(
    name="brake_not_confirmed",
    title="brake release not confirmed",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(
        ("{motion}.*.contactor", "{motion}.brake.released"),
        ("{motion}.*.command", "{motion}.brake.released"),
    ),
    severity="repair",
    why_severity="the motor may be working against a closed brake, and the function is lost",
    usually="a brake-release switch that does not close, a brake coil or rectifier that does not lift the brake",
    unit="s",
    look_back_s=60.0,
    finest=("brake_release_s",),
    describe=describe,
)
