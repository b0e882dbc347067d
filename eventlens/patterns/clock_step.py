"""Clock step: the controller's clock was set, so that its stamps do not run on.

Definition: a record that is stamped earlier than the one before it by more than late arrivals are (`late_s` of the
profile), in the order in which they were written: the clock was set back, whatever for. Forward a step shows only
where something contradicts the stamps: a counter of rows that runs on while the rhythm owes records, a beat that comes
an hour and one period late, a step back that takes the jump away again, or more than a year without a record.
Otherwise a silence is a silence. `measured` is the difference of the stamps on either side; the clock was set by at
least as much backward, at most as much forward. Nothing is carried over a step: no run, no window, no duration.
A step back begins and ends at the last instant by the old clock; a step forward ends at the first by the new one.
Source: common practice. Cost: none, steps are found on reading.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.patterns._base import FOUND, Context, Pattern, extent


@dataclass(frozen=True)
class Parameters:
    """The bound of late arrivals is `late_s` of the profile."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """The steps of the clock."""
    return context.clock_steps.with_columns(
        end=pl.when(pl.col("seconds") > 0).then("end").otherwise("start"),
        certainty=pl.when(pl.col("seconds") < 0).then(pl.lit("certain")).otherwise(pl.lit("possible")),
        measured="seconds",
        limit=pl.lit(None, pl.Float64),
        direction=pl.lit(None, schema.DIRECTION),
    ).select(*FOUND)


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    least, most = extent(found)
    sizes = f"{least:+.0f} s" if least == most else f"{least:+.0f} to {most:+.0f} s"
    return f"{sizes} by the stamps; times on either side cannot be compared"


EXAMPLE = """
1 s
hoist.raise.contactor  ..###..............###.....
log                    ...............-...........
"""

PATTERN = Pattern(
    name="clock_step",
    title="clock step",
    parameters=Parameters,
    find=find,
    motions=(),
    needs=(),
    severity="note",
    why_severity="nothing about the machine; it says which times cannot be compared",
    usually="the clock was set by hand or by a time server, summer time changed, or its battery is empty",
    unit="s",
    look_back_s=0.0,
    exposure="observed_h",
    rhythm=True,
    describe=describe,
    example=EXAMPLE,
)
