"""Run too long: a run lasts longer than the motor's short-time rating.

Definition: a run longer than `run_longest_s`. A run that a hole or an end of the log cuts counts
with its proven length.
Certain if it is longer by more than two log steps, and if the step is fine enough to show that nobody let go in
between; possible otherwise.
Source: IEC 60034-1, duty S2: 10 minutes is the shortest preferred duration. Cost: a filter over the runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import signals
from eventlens.limits import limit
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, proof
from eventlens.patterns._together import maybe_over, surely_over


@dataclass(frozen=True)
class Parameters:
    run_longest_s: float = limit(
        600.0,
        "s",
        "IEC 60034-1, S2: 10 min is the shortest preferred duration of short-time duty",
        "it is the motor's short-time rating: take it from the plate",
    )


SHOWS_PAUSES_S = 0.1
"""Step [s] up to which a button that was let go and pressed again shows (common practice: 0.15 s and more)."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Runs of one motion that were too long."""
    u, length = context.uncertainty_s, pl.col("duration_s")
    runs = context.runs_of(motion).filter(maybe_over(length, p.run_longest_s, u))
    return runs.with_columns(
        proof(),
        graded(surely_over(length, p.run_longest_s, u) & pl.lit(context.step_s <= SHOWS_PAUSES_S)),
        measured=length,
        limit=pl.lit(p.run_longest_s),
    ).select(*FOUND)


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return f"the longest {extent(found)[1] / 60:.1f} min"


EXAMPLE = """
60 s
hoist.lower.command    ..############..
hoist.lower.contactor  ..############..
"""

PATTERN = Pattern(
    name="run_too_long",
    title="run too long",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor",), ("{motion}.*.command",)),
    severity="watch",
    why_severity="the motor heats beyond its short-time rating",
    usually="a long hook path in slow, a button that is wedged, a contact that sticks",
    unit="s",
    look_back_s=86400.0,
    exposure="start",
    describe=describe,
    absence=True,
    example=EXAMPLE,
)
