"""Does not start: a direction is commanded and its contactor never closes.

Definition: a command held for at least `no_start_s` during which the contactor of that direction is known to stay
open, and no blocking signal explains it: limit in that direction, overload device (raise), slack rope (lower),
emergency stop, hot motor, missing supply, or the opposite direction commanded or running. Explained refusals are no
finding.

If the brake confirmation is on at rest the controller's start check refuses on purpose: the switch is stuck closed, or
the brake is standing open, which is dangerous until someone has looked; the summary says so.
Certain if limit, thermistor, emergency stop and (raise) overload device are known to be off, or ruled out by a start
soon after, and if the log is fine enough to show a contactor that closes for a moment; otherwise possible.
Source: common practice. Cost: one match of commands with contactors and one for each blocking signal.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.limits import limit
from eventlens.motion.near import following, latest, seconds
from eventlens.patterns._base import FOUND, Context, Pattern, graded, moved, nothing
from eventlens.patterns._refused import not_refused, surely_not


@dataclass(frozen=True)
class Parameters:
    no_start_s: float = limit(
        0.7,
        "s",
        "common practice: contactors close in 0.1 s, reversing dwell takes up to 0.5 s",
        "raising it misses short presses in vain; lowering it takes the dwell after a reversal for a refusal",
    )
    contactor_close_s: float = limit(
        0.1,
        "s",
        "common practice: contactors close in 0.008 to 0.1 s",
        "raising it lets a start that comes after the command count as its answer",
    )


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Commands of one motion that were held in vain."""
    parts = [
        _of_direction(context, motion, direction, p)
        for direction in signals.MOTIONS[motion]
        if {f"{motion}.{direction}.command", f"{motion}.{direction}.contactor"} <= context.carried
    ]
    return pl.concat([nothing(), *parts], how="vertical_relaxed").sort("start")


def _of_direction(context: Context, motion: str, direction: str, p: Parameters) -> pl.DataFrame:
    states, u = context.states, context.uncertainty_s
    contactor = f"{motion}.{direction}.contactor"
    held = states.on(f"{motion}.{direction}.command").filter("start_seen")
    held = held.with_columns(measured=seconds("end", "start")).filter(pl.col("measured") >= p.no_start_s)
    held = latest(held, pl.col("start"), states.off(contactor), "open")
    held = following(held, pl.col("start"), states.on(contactor), "next")
    answer = pl.duration(microseconds=round(p.contactor_close_s * 1e6))
    open_throughout = (pl.col("open_end") >= pl.col("end")) & (
        pl.col("next_start").is_null() | (pl.col("next_start") > pl.col("end") + answer)
    )
    held = not_refused(held.filter(open_throughout.fill_null(value=False)), context, motion, direction, p.no_start_s)
    settled = pl.lit(surely_not(held, pl.col("next_start"), context, motion, direction))
    # a contactor that closes for a moment between two records would not be seen
    fine = context.uncertainty_s <= p.contactor_close_s
    return held.with_columns(
        graded(settled & pl.lit(fine) & (moved(pl.col("measured"), -u) >= p.no_start_s)),
        limit=pl.lit(p.no_start_s),
        direction=pl.lit(direction, schema.DIRECTION),
        rows=pl.concat_list("start_row", "end_row"),
    ).select(*FOUND)


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
    finest=("no_start_s",),
    describe=describe,
    example=EXAMPLE,
)
