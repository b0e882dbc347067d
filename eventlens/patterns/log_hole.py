"""Hole in the log: the record is silent for longer than its own rhythm allows.

Definition: a stretch without any record, longer than three periods of the log's rhythm around it (the sample cycle, or
a heartbeat, which may change its period), or that ends with a record of a restart or a counter of rows that begins
again. It spans from the last record before to the first after. Within it nothing is known: states, runs and totals
stop at its edge, and rates divide by the observed time without it. A log that only records changes and has no
heartbeat cannot show silence: it may be rest.
Source: common practice. Cost: none, holes are found on reading.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.motion.near import seconds
from eventlens.patterns._base import FOUND, Context, Pattern, extent


@dataclass(frozen=True)
class Parameters:
    """The rhythm is the log's own; the profile may name a heartbeat or the longest silence."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """The holes of the log."""
    usual = pl.lit(3 * context.rhythm_s if context.rhythm_s else None, pl.Float64)
    return context.holes.with_columns(
        certainty=pl.lit("certain"),
        measured=seconds("end", "start"),
        limit=pl.when(pl.col("why") == "silence").then(pl.coalesce("limit_s", usual)),
        direction=pl.lit(None, schema.DIRECTION),
    ).select(*FOUND)


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return f"{found['measured'].sum() / 3600:.2f} h in all, the longest {extent(found)[1]:.0f} s"


EXAMPLE = """
1 s
hoist.raise.contactor  ..###......................
log                    .........????????..........
"""

PATTERN = Pattern(
    name="log_hole",
    title="hole in the log",
    parameters=Parameters,
    find=find,
    motions=(),
    needs=(),
    severity="note",
    why_severity="nothing about the machine; it says what the log cannot prove",
    usually="the logger or its supply was off, or its memory overran",
    unit="s",
    look_back_s=0.0,
    exposure="observed_h",
    rhythm=True,
    describe=describe,
    example=EXAMPLE,
)
