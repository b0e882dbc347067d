"""Common drop-out: signals that have nothing to do with each other fall together; their supply went, not they.

Definition: one of three. Contactors of at least two motions open within `common_within_s` (or one log step, where that
is longer) although their commands are held and no device of their own cut them. Or an output opens, whatever its
command does, and with it at least two inputs change that have nothing to do with it (limits of other directions, a
thermistor, the overload device, slack rope): inputs that fail safe operate when their supply goes. Or
the log carries the control supply, it goes, and something that was on opens. An emergency stop opens everything on
purpose: it explains the first and the third. It spans the first fall to the first return of an output or of the supply.
Measured is how many signals fell that have nothing to do with each other; the limit is how many were needed.

Runs that end so end by the supply: they are no drop-outs. What begins or ends in it is no chatter, jog or lost
function.
One contactor alone, without the supply in the log, cannot be told from a loose relay: that is `drop_out`.

Certain if so many signals fall together by chance less often than `common_false_alarm` in the whole log. That depends
on how much happens in it and on its step: at a coarse step more of them are needed. Where only contactors show it, the
step must be finer than a hand, and the emergency stop known to be off or ruled out by a return within `stop_reset_s`.
Source: common practice. Cost: a sort of all openings, done once for all patterns.
"""

from __future__ import annotations

from itertools import combinations

import polars as pl

from eventlens import schema, signals
from eventlens.motion.common import CommonParameters
from eventlens.motion.endings import EndingParameters
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded


def find(context: Context, motion: str, p: CommonParameters) -> pl.DataFrame:
    """The common drop-outs, as the runs were read with them."""
    return context.common.with_columns(
        graded(pl.col("sure")),
        measured="fallen",
        limit="needed",
        direction=pl.lit(None, schema.DIRECTION),
    ).select(*FOUND)


def describe(context: Context, motion: str, found: pl.DataFrame, p: CommonParameters) -> str:
    fell = context.common.select(pl.col("signals").list.explode(keep_nulls=False, empty_as_null=False))
    names = ", ".join(fell["signals"].unique().sort().cast(pl.String))
    return f"up to {extent(found)[1]:.0f} signals at once that have nothing to do with each other, of {names}"


def coarsest(p: CommonParameters) -> float:
    """The coarsest log step [s] that is still finer than a hand."""
    return EndingParameters().hand_s


EXAMPLE = """
0.5 s
hoist.raise.command     ..############......
hoist.raise.contactor   ..######............
trolley.left.command    ...###########......
trolley.left.contactor  ...#####............
stop.emergency          ....................
"""

_CONTACTORS = tuple(f"{motion}.*.contactor" for motion in signals.MOTIONS)
_INPUTS = ("overload.trip", "rope.slack", *(f"{motion}.*.limit" for motion in signals.MOTIONS))

PATTERN = Pattern(
    name="common_drop_out",
    title="common drop-out",
    parameters=CommonParameters,
    find=find,
    motions=(),
    needs=(
        *(
            (a, a.replace("contactor", "command"), b, b.replace("contactor", "command"))
            for a, b in combinations(_CONTACTORS, 2)
        ),
        *(("supply.control", contactor) for contactor in _CONTACTORS),
        *((contactor, *inputs) for contactor in _CONTACTORS for inputs in combinations(_INPUTS, 2)),
    ),
    severity="repair",
    why_severity="every motion stops at moments nobody chooses; whoever looks at one relay looks in the wrong place",
    usually="a control transformer or its fuse, a common terminal or return wire, a dip of the mains, a main contactor",
    unit="signals",
    look_back_s=600.0,
    settles_s=5.0,  # one that follows soon enough makes it longer
    exposure="running_h",
    coarsest=coarsest,
    describe=describe,
    example=EXAMPLE,
)
