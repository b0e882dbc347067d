"""Hole in the log: the record is silent for longer than its own rhythm allows.

Definition: a stretch without any record, longer than three periods of the log's rhythm (the sample cycle, or a
heartbeat). It spans from the last record before to the first after. Within it nothing is known: states, runs and
totals stop at its edge, and rates divide by the observed time without it. A log that only records changes and has no
heartbeat cannot show it: silence may be rest.
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
    limit = 3 * context.rhythm_s if context.rhythm_s else None
    return context.holes.with_columns(
        certainty=pl.lit("certain"),
        measured=seconds("end", "start"),
        limit=pl.lit(limit, pl.Float64),
        direction=pl.lit(None, schema.DIRECTION),
    ).select(*FOUND)


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    return f"{found['measured'].sum() / 3600:.2f} h in all, the longest {extent(found)[1]:.0f} s"


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
    rhythm=True,
    describe=describe,
)
