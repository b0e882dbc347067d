"""Brake not confirmed: the motor is energised and the brake's release is never confirmed.

Definition: a run whose confirmation stayed off from start to end although it lasted at least `brake_release_s`. Most
controllers give up after a time-out of 0.8 to 2 s, and the run ends dropped out: the hoist starts and drops out at
once. Runs shorter than the limit prove nothing. A confirmation that came and went is `drop_out`.

Either the switch does not close, or the brake does not lift and the motor works against it; the log alone cannot tell
these two apart, motor current or movement can.
Source: common practice. Cost: one match of runs with the confirmation.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import brake_release_s
from eventlens.motion.kinds import never_confirmed
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, moved, proof


@dataclass(frozen=True)
class Parameters:
    brake_release_s: float = brake_release_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Runs of one motion without confirmation."""
    runs = context.runs_of(motion)
    return (
        runs.filter(
            never_confirmed(runs, context.states, motion)
            & (runs["duration_s"] >= p.brake_release_s)
            & runs["start_seen"]
        )
        .with_columns(
            proof(),
            graded(moved(pl.col("duration_s"), -context.uncertainty_s) >= p.brake_release_s),
            measured="duration_s",
            limit=pl.lit(p.brake_release_s),
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
