"""Contactor uncommanded: a contactor closes although nobody asks for it.

Definition: a direction's contactor is seen to close while its command is known to be off, from 0.5 s before
(a late answer to a short press is none) until `uncommanded_s` after it or until it opens again; the fast output
likewise where the fast command is logged. It spans contactor on to off.
Chatter and common drop-outs are left out.

Certain if both times exceed their limits by more than two log steps and the log does not lose records in pairs (both
of a press may be lost); possible otherwise, and where the command stands still altogether while its output goes on
working, for more runs than chance allows by its share of the runs before: then it may be missing in the log
(`frozen_signal`). Coarser than
`uncommanded_s` a log may not show a short press, and nothing is judged.
Source: common practice. Cost: one match for each output.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.patterns._base import FOUND, Context, Pattern, extent
from eventlens.patterns._unasked import uncommanded, uncommanded_s


@dataclass(frozen=True)
class Parameters:
    uncommanded_s: float = uncommanded_s()


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Outputs of one motion that came by themselves."""
    return uncommanded(context, motion, p.uncommanded_s).select(*FOUND, "signal")


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return f"longest on for {extent(found)[1]:.1f} s"


EXAMPLE = """
0.1 s
hoist.raise.command    .........................
hoist.raise.contactor  ..........######.........
"""

PATTERN = Pattern(
    name="contactor_uncommanded",
    title="contactor without a command",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.command", "{motion}.*.contactor"),),
    severity="out_of_service",
    why_severity="the machine moves by itself",
    usually="a short or earth fault in the control wiring, a relay that sticks, a contactor pressed by hand in service",
    unit="s",
    look_back_s=60.0,
    exposure="observed_h",
    finest=("uncommanded_s",),
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
