"""Does not start: a direction is commanded and its contactor never closes.

Definition: a command held for at least `no_start_s` during which the contactor of that direction is known to stay
open, and no blocking signal explains it: limit in that direction, overload device (raise), slack rope (lower),
emergency stop, hot motor, missing supply, or the opposite direction commanded or running. Explained refusals are no
finding; nor is a command that belongs to `chatter` or to a common drop-out. Three in a row are a `lost_function` too.

If the brake confirmation is on at rest the controller's start check refuses on purpose: the switch is stuck closed, or
the brake is standing open, which is dangerous until someone has looked; the summary says so.
Certain if limit, thermistor, emergency stop and (raise) overload device are known to be off, or ruled out by a start
soon after, and if the log is fine enough to show a contactor that closes for a moment; otherwise possible.
Source: common practice. Cost: one match of commands with contactors and one for each blocking signal.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.motion.near import latest
from eventlens.patterns._base import FOUND, Context, Pattern, graded, nothing
from eventlens.patterns._tries import contactor_close_s, direction_tries, no_start_s


@dataclass(frozen=True)
class Parameters:
    no_start_s: float = no_start_s()
    contactor_close_s: float = contactor_close_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Commands of one motion that were held in vain."""
    parts = [
        direction_tries(context, motion, direction, p.no_start_s, p.contactor_close_s).filter("failed")
        for direction in signals.MOTIONS[motion]
        if {f"{motion}.{direction}.command", f"{motion}.{direction}.contactor"} <= context.carried
    ]
    found = [
        part.with_columns(
            graded(pl.col("sure")), limit=pl.lit(p.no_start_s), rows=pl.concat_list("start_row", "end_row")
        ).select(*FOUND)
        for part in parts
    ]
    return pl.concat([nothing(), *found], how="vertical_relaxed").sort("start")


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    held = found.select("start", segment=pl.lit(0, pl.UInt32))
    resting = context.states.on(f"{motion}.brake.released").with_columns(segment=pl.lit(0, pl.UInt32))
    # a brake that is still setting after the run before is none at rest
    still = pl.duration(microseconds=round(p.no_start_s * 1e6))
    at_rest = latest(held, pl.col("start"), resting, "resting").filter(pl.col("resting_end") >= pl.col("start") + still)
    if at_rest.is_empty():
        return ""
    return (
        f"{at_rest.height} of them with the brake confirmation on at rest: the switch is stuck closed, or the brake "
        "stands open: out of use until someone has looked"
    )


EXAMPLE = """
0.1 s
hoist.raise.command    ..#############.....
hoist.raise.contactor  ....................
hoist.raise.limit      ....................
hoist.motor.hot        ....................
stop.emergency         ....................
overload.trip          ....................
"""

PATTERN = Pattern(
    name="no_start",
    title="does not start",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.command", "{motion}.*.contactor"),),
    severity="repair",
    why_severity="the function is lost",
    usually="a loose or worn relay, a contactor coil, an interlock contact, a start check that refuses",
    unit="s held",
    look_back_s=60.0,
    exposure="try",
    finest=("no_start_s",),
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
