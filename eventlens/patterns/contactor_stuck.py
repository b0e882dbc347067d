"""Contactor stuck: the operator lets go, and the contactor stays on.

Definition: a direction's contactor is still on more than `contactor_stuck_s` after its command went off and before the
same command comes again; the fast output likewise after fast and both directions are let go. It spans the release to
the opening, over further presses too: one contactor that stays on is one occurrence. Measured is the longest wait. A
contactor that came without a command is `contactor_uncommanded`; chatter and common drop-outs are left out.

Certain if the wait exceeds the limit by more than two log steps, with both signals known all the while. Pressed
again meanwhile, a contactor may open and close between two records of a coarse log: then it is possible only.
The motion goes on although nobody asks for it: only the limit or the emergency stop ends it.
Source: common practice. Cost: one sweep for each output.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.patterns._base import FOUND, Context, Pattern, extent
from eventlens.patterns._unasked import contactor_stuck_s, stuck


@dataclass(frozen=True)
class Parameters:
    contactor_stuck_s: float = contactor_stuck_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Outputs of one motion that stayed on."""
    return stuck(context, motion, p.contactor_stuck_s).select(*FOUND, "signal")


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return f"on for up to {extent(found)[1]:.1f} s after the command"


EXAMPLE = """
0.1 s
hoist.raise.command    ..##########......................
hoist.raise.contactor  ...########################.......
"""

PATTERN = Pattern(
    name="contactor_stuck",
    title="contactor stays on",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.command", "{motion}.*.contactor"),),
    severity="out_of_service",
    why_severity="the motion goes on after the operator lets go",
    usually="welded or sticking contacts, a relay that holds, a short in the control wiring",
    unit="s",
    look_back_s=600.0,
    exposure="start",
    finest=("contactor_stuck_s",),
    coarsest=lambda p: round(p.contactor_stuck_s / 10, 6),
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
