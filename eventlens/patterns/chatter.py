"""Chatter: a signal goes on and off faster than a hand can switch it; a contact is loose, worn or shaken.

Definition: `chatter_pairs` on-off pairs of one signal in a row (off-on pairs, where it should stay on) that take no
longer than `chatter_window_s`, counted from the first toggle to the last and by their mean period, whichever is longer,
so that a quick hand (one press every `quick_hand_s`) is none however short its presses are. Windows that share a pair
are one; it spans the first toggle to the last. Measured is the time of the quickest pairs. Of signals that follow each
other (what stops the whole machine; command or device; contactor; brake and fast output) only the first one that
chatters is reported. What falls in a common drop-out is that. The overload device is left out: a load that swings about
its limit is one event of `overload_trip`, and a flickering fault of its own is `overload_device_fault`.

Runs and commands that begin or end in chatter are no jogs, drop-outs or lost functions.

Certain if the quickest pairs, or the mean of all, stay below the limit when each time is off by the log's uncertainty.
Not resolvable with a step at which a quick hand could look like it; what is certain is reported all the same.
Source: common practice; for alarms ISA-18.2 calls three in a minute chattering.
Cost: one pass over the changes of each signal, done once for all patterns.
"""

from __future__ import annotations

from typing import Final

import polars as pl

from eventlens import schema, signals
from eventlens.motion.chatter import ChatterParameters, first_of_chain, healthy_apart
from eventlens.motion.spells import overlaps
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded

_KINDS: Final = ("*.command", "*.contactor", "brake.released", "*.limit", "*.slowdown")


def find(context: Context, motion: str, p: ChatterParameters) -> pl.DataFrame:
    """Chatter of every signal that no other signal's and no common drop-out explains."""
    after_s = context.endings.explained_within_s + context.uncertainty_s
    own = context.chatter.filter(~overlaps(context.chatter, context.common, after_s))
    return (
        first_of_chain(own, after_s)
        .with_columns(
            graded(pl.col("sure")),
            measured="quickest_s",
            limit=pl.lit(p.chatter_window_s),
            direction=pl.lit(None, schema.DIRECTION),
        )
        .select(*FOUND, "signal", "motion")
    )


def describe(context: Context, motion: str, found: pl.DataFrame, p: ChatterParameters) -> str:
    toggled = context.chatter.join(found.select("signal", "start"), on=["signal", "start"], how="semi")
    longest = max(toggled["pairs"].to_list(), default=0)
    quickest = f"{p.chatter_pairs:g} pairs in {extent(found)[0]:.2f} s"
    return f"{found['signal'][0]}, up to {longest} times in a row, at the quickest {quickest}"


EXAMPLE = """
0.05 s
hoist.raise.command    ..########################..
hoist.raise.contactor  ...#######.#.##.#.#########.
hoist.brake.released   ......####..........#######.
"""

PATTERN = Pattern(
    name="chatter",
    title="chatter",
    parameters=ChatterParameters,
    find=find,
    motions=(),
    needs=(
        *((f"{motion}.{kind}",) for motion in signals.MOTIONS for kind in _KINDS),
        *((name,) for name in ("stop.emergency", "supply.control", "rope.slack")),
    ),
    severity="repair",
    why_severity="a contact that rattles burns and then fails, and what it switches starts and stops with it",
    usually="a relay loose in its socket, a worn button, a loose terminal, a cable that is shaken",
    unit="s",
    look_back_s=60.0,
    settles_s=5.0,  # one that follows soon enough makes it longer
    exposure="running_h",
    coarsest=healthy_apart,
    describe=describe,
    example=EXAMPLE,
)
