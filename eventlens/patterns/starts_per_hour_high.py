"""Starts per hour too high: the motor is switched on more often than its group allows.

Definition: any sliding hour (t - 3600 s, t] that holds more starts than the limit of the motion's group (FEM 9.683,
ASME HST), or of the motor's plate where the machine file gives it. Raw starts count, jogs too: that is how the limits
are meant. An occurrence is the union of such windows, from the beginning of the first to the end of the last; measured
is the highest count. A window may reach over a hole in the log: the count is then a proven minimum.
Certain if the count stays above the limit when the window is shortened by the log's uncertainty.
Cost: one sorted search over the starts.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.duty.groups import motor_limits
from eventlens.duty.starts import excess_windows, sliding_starts
from eventlens.duty.windows import HOUR_S
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, nothing
from eventlens.patterns._duty import missing_group, sourced


@dataclass(frozen=True)
class Parameters:
    """The limits come from the group or the plate in the machine file."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Stretches with too many starts in an hour."""
    allowed = motor_limits(context.machine, motion)
    begun = context.runs_of(motion).filter("start_seen")
    if allowed is None or begun.is_empty():
        return nothing()
    limit = allowed.starts_per_hour
    above = excess_windows(sliding_starts(begun["start"]), limit)
    if above.is_empty():
        return nothing()
    surely = sliding_starts(begun["start"], HOUR_S - context.uncertainty_s).filter(pl.col("count") > limit)
    rows = [
        begun.filter(pl.col("start").is_between(a, b))["start_row"].to_list()
        for a, b in above.select("start", "end").rows()
    ]
    sure = [surely["time"].is_between(a, b).any() for a, b in above.select("start", "end").rows()]
    return above.with_columns(
        graded(pl.lit(pl.Series(sure, dtype=pl.Boolean))),
        measured="peak",
        limit=pl.lit(float(limit)),
        direction=pl.lit(None, schema.DIRECTION),
        rows=pl.Series(rows, dtype=pl.List(schema.ROW)),
    ).select(*FOUND)


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    allowed = motor_limits(context.machine, motion)
    if allowed is None:
        return ""
    most = extent(found)[1]
    return f"at most {most:.0f} in an hour where {allowed.starts_per_hour} are allowed ({sourced(allowed)})"


EXAMPLE = """
5 s
hoist.raise.contactor  (#.)*260..(.)*400
"""

PATTERN = Pattern(
    name="starts_per_hour_high",
    title="starts per hour too high",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor",), ("{motion}.*.command",)),
    severity="watch",
    why_severity="motor, contactors and brake wear and heat faster than they were built for",
    usually="work above the machine's group, or jogging",
    unit="starts in an hour",
    look_back_s=3600.0,
    settles_s=3600.0,  # a window that overlaps it makes it longer
    exposure="start",
    least_log_s=3600.0,
    blind_step_s=0.5,  # common practice: jogs and the pauses between them may be as short
    setting=missing_group,
    describe=describe,
    example=EXAMPLE,
)
