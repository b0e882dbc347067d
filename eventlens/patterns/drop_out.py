"""Drop-out: the motion starts, and the contactor opens by itself while the button is still held.

Definition: a run that ended `dropped_out`: the command was still on and no limit, overload device, emergency stop, hot
motor or supply event explains the end. Runs whose brake never confirmed are `brake_not_confirmed` instead, those that
chatter cut short are `chatter`, those of several motions at once are `common_drop_out`. Measured is the time from brake
release (start, where no release was seen) to the end. Where only command and confirmation are logged, the confirmation
that goes and stays away under a held command shows the drop-out.

Certain if every device that could explain the end is logged or ruled out (a restart in the same direction soon after
rules out a limit or a hot motor; a confirmation that went before the contactor opened rules out all of them).
A step too coarse to tell it from an ordinary release, or from a button that was let go and pressed again at once, makes
it possible only.
Source: common practice. Cost: a filter over the runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import brake_release_s, limit
from eventlens.motion.kinds import never_confirmed
from eventlens.motion.near import seconds
from eventlens.patterns._base import FOUND, Context, Pattern, graded, proof


@dataclass(frozen=True)
class Parameters:
    brake_release_s: float = brake_release_s()
    drop_out_early_s: float = limit(
        1.0,
        "s",
        "common practice: a switch that does not stay closed shows within about a second of the release",
        "it only sorts drop-outs into early and later ones in the summary; both are reported",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Runs of one motion that dropped out, but for those whose brake never confirmed."""
    runs = context.calm_runs(motion)
    long = pl.col("duration_s") >= p.brake_release_s
    unconfirmed = pl.lit(never_confirmed(runs, context.states, motion)) & long
    # a confirmation that was never recorded leaves open which of the two it is
    open_kind = pl.lit(context.states.has(f"{motion}.brake.released")) & long & pl.col("brake_on").is_null()
    return (
        runs.filter((pl.col("ending") == "dropped_out") & pl.col("start_seen") & ~unconfirmed)
        .with_columns(
            proof(),
            graded(pl.col("ending_certain") & ~open_kind),
            measured=seconds(
                pl.when(pl.col("basis") == "command").then("brake_off").otherwise("end"),
                pl.max_horizontal(pl.coalesce("brake_on", "start"), "start"),
            ),
            limit=pl.lit(None, pl.Float64),
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    early = found.filter(pl.col("measured") <= p.drop_out_early_s).height
    ways = ", ".join(
        f"{name} {count}" for name, count in found["direction"].value_counts().sort("direction").iter_rows()
    )
    since = "brake release" if context.states.has(f"{motion}.brake.released") else "the start"
    return f"{early} within {p.drop_out_early_s:g} s of {since}; {ways}"


EXAMPLE = """
0.1 s
hoist.raise.command    ..############.....
hoist.raise.contactor  ..######...........
hoist.brake.released   ....####...........
hoist.raise.limit      ...................
hoist.motor.hot        ...................
stop.emergency         ...................
overload.trip          ...................
supply.control         ###################
"""

PATTERN = Pattern(
    name="drop_out",
    title="drop-out",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(
        ("{motion}.*.contactor", "{motion}.*.command"),
        ("{motion}.*.command", "{motion}.brake.released"),
        ("{motion}.*.contactor", "{motion}.brake.released"),
    ),
    severity="repair",
    why_severity="the function is lost at moments nobody chooses, and the load stops on the brake each time",
    usually="a brake-release switch that does not stay closed, a loose relay or terminal, a worn button or cable",
    unit="s",
    look_back_s=600.0,
    settles_s=10.0,  # whether a limit or a hot motor still blocks the direction is asked so long after
    exposure="start",
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
