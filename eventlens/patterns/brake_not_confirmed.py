"""Brake not confirmed: the motor is energised and the brake's release is never confirmed.

Definition: a run whose confirmation stayed off from start to end although it lasted at least `brake_release_s` and then
dropped out, or at least `brake_confirm_s` however it ended. Most controllers give up after a time-out of 0.8 to 2 s:
the hoist starts and drops out at once. Shorter runs prove nothing: a slow brake may just not have been ready. A
confirmation that came and went is `drop_out`.

A row of runs without any confirmation that went on as they were asked may also be one that the log lost
(`frozen_signal`): these are possible only.

Where only commands are logged, a command that a device refused on purpose is none, and the finding is certain only if
every such device is known to be off.

Either the switch does not close, or the brake does not lift and the motor works against it; the log alone cannot tell
these two apart, motor current or movement can.
Source: common practice. Cost: one match of runs with the confirmation.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.limits import brake_release_s, limit
from eventlens.motion.kinds import never_confirmed
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, moved, nothing, proof
from eventlens.patterns._frozen import while_frozen
from eventlens.patterns._refused import not_refused, surely_not


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
    runs = context.calm_runs(motion)
    gave_up = pl.col("ending") == "dropped_out"
    least = pl.when(gave_up).then(p.brake_release_s).otherwise(p.brake_confirm_s)
    quiet = runs.filter(never_confirmed(runs, context.states, motion) & runs["start_seen"])
    quiet = quiet.filter(pl.col("duration_s") >= least).with_columns(limit=least)
    if quiet.is_empty():
        return nothing()
    parts = [_of_direction(context, quiet, motion, direction, p) for direction in signals.MOTIONS[motion]]
    return pl.concat(parts).sort("start")


def _of_direction(context: Context, quiet: pl.DataFrame, motion: str, direction: str, p: Parameters) -> pl.DataFrame:
    own = quiet.filter(pl.col("direction") == direction)
    # where no contactor is logged, a command that was refused on purpose needs no confirmation
    asked = not_refused(own.filter(pl.col("basis") == "command"), context, motion, direction, p.brake_release_s)
    sure = pl.lit(surely_not(asked, pl.lit(None, schema.TIME), context, motion, direction))
    known = own.filter(pl.col("basis") == "contactor")
    # a controller that misses the confirmation gives up: where none comes any more and the work goes on, the log may
    # have lost it
    missed = (known["ending"] == "dropped_out") & known["ending_certain"]
    unseen = while_frozen(context, motion, f"{motion}.brake.released", known) & ~missed
    known = known.with_columns(
        _sure=(pl.col("ending_certain") | (pl.col("duration_s") >= p.brake_confirm_s)) & ~pl.lit(unseen)
    )
    return (
        pl.concat([known, asked.with_columns(_sure=sure)])
        .with_columns(
            proof(),
            graded(pl.col("_sure") & (moved(pl.col("duration_s"), -context.uncertainty_s) >= pl.col("limit"))),
            measured="duration_s",
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    least, most = extent(found)
    return f"the runs lasted {least:.2f} to {most:.2f} s without it"


EXAMPLE = """
0.1 s
hoist.raise.command    ..###################...
hoist.raise.contactor  ..############..........
hoist.brake.released   ........................
"""

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
    exposure="start",
    finest=("brake_release_s",),
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
