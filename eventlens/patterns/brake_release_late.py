"""Brake releases late: the confirmation comes, but later after the contactor than a healthy brake needs.

Definition: a run whose confirmation came during it, more than `brake_release_s` after the directional contactor. After
a quick restart, in which the brake was still setting, time counts from the moment the confirmation had gone. A run
that was never confirmed is `brake_not_confirmed`; what belongs to chatter or a common drop-out is theirs.

Certain if the time exceeds the limit by more than two log steps and the confirmation was known all the while; possible
if the limit lies within them. A step too coarse to keep a healthy brake (0.4 s) clear of the limit leaves only what is
certain.
Until it opens, the motor turns against the brake: linings and motor heat up.
Source: common practice. Cost: one join of runs with the confirmation.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import brake_release_s
from eventlens.motion.near import seconds
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, nothing, proof
from eventlens.patterns._together import apart, maybe_over, surely_over


@dataclass(frozen=True)
class Parameters:
    brake_release_s: float = brake_release_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Runs of one motion whose brake released late."""
    u = context.uncertainty_s
    measured = pl.col("measured")
    # the brake had no longer than this: what is late shows already here
    late = maybe_over(pl.col("release_time_s"), p.brake_release_s, u)
    runs = context.calm_runs(motion).filter(late & (pl.col("basis") == "contactor") & pl.col("start_seen"))
    if runs.is_empty():
        return nothing()
    unreleased = context.states.off(f"{motion}.brake.released").filter(
        pl.col("end_seen") & (pl.col("end") > pl.col("start"))
    )
    frame = runs.join(
        unreleased.select(brake_on="end", fell="start", fell_seen="start_seen"),
        on="brake_on",
        how="inner",
        maintain_order="left",
    )
    known = (pl.col("fell") <= pl.col("start")) | pl.col("fell_seen")
    return (
        frame.with_columns(proof(), measured=seconds("brake_on", pl.max_horizontal("start", "fell")))
        .filter(maybe_over(measured, p.brake_release_s, u))
        .with_columns(
            graded(surely_over(measured, p.brake_release_s, u) & known), limit=pl.lit(p.brake_release_s), end="brake_on"
        )
        .select(*FOUND)
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    least, most = extent(found)
    timed = context.runs_of(motion)["release_time_s"].count()
    return f"{least:.2f} to {most:.2f} s; {found.height} of {timed} confirmed starts"


EXAMPLE = """
0.1 s
hoist.raise.command    ..#################....
hoist.raise.contactor  ...################....
hoist.brake.released   ..........##########...
"""

PATTERN = Pattern(
    name="brake_release_late",
    title="brake releases late",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor", "{motion}.brake.released"),),
    severity="repair",
    why_severity="the motor turns against a closed brake at each start, and a slowing brake ends by not opening",
    usually="an air gap that has grown with wear, a coil or rectifier going weak, low brake voltage, a stiff linkage",
    unit="s",
    look_back_s=60.0,
    exposure="start",
    finest=("brake_release_s",),
    coarsest=lambda p: apart(p.brake_release_s, 0.8 * p.brake_release_s),
    describe=describe,
    example=EXAMPLE,
)
