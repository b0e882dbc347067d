"""Cyclic duration too high: the motor runs for a larger share of the time than its group allows.

Definition: any sliding window in which the running time exceeds the group's cyclic duration factor: ten minutes for
FEM 9.683 groups (IEC 60034-1), an hour for ASME HST classes. An occurrence is the union of such windows, from the
beginning of the first to the end of the last; measured is the highest share. Unknown time counts as rest, so the share
is a proven minimum.
Certain if the share stays above the limit when every run in the window is shorter by the log's uncertainty.
Cost: one pass over the ends of the runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from eventlens import schema, signals
from eventlens.duty.cyclic import excess_windows, running_share
from eventlens.duty.groups import motor_limits
from eventlens.duty.windows import TEN_MINUTES_S
from eventlens.patterns._base import FOUND, Context, Pattern, extent, graded, nothing
from eventlens.patterns._duty import missing_group, sourced


@dataclass(frozen=True)
class Parameters:
    """The limits come from the group or the plate in the machine file."""


def find(context: Context, motion: str, p: Parameters) -> pl.DataFrame:
    """Stretches with too large a share of running time."""
    allowed = motor_limits(context.machine, motion)
    runs = context.runs_of(motion)
    if allowed is None or runs.is_empty():
        return nothing()
    window = allowed.window_s
    known = context.share[motion] if window == TEN_MINUTES_S else running_share(runs.select("start", "end"), window)
    above = excess_windows(known, allowed.cyclic_duration, window)
    if above.is_empty():
        return nothing()
    spans = above.select("start", "end").rows()
    inside = [runs.filter((pl.col("end") > a) & (pl.col("start") < b)) for a, b in spans]
    rows = [
        part.select(pl.concat_list("start_row", "end_row").list.explode(keep_nulls=False, empty_as_null=False))
        .to_series()
        .to_list()
        for part in inside
    ]
    # all runs of the stretch could lie in one window; each may be shorter by the uncertainty
    off = [part.height * context.uncertainty_s / window for part in inside]
    return above.with_columns(
        graded(pl.col("peak") - pl.Series(off, dtype=pl.Float64) > allowed.cyclic_duration),
        measured="peak",
        limit=pl.lit(allowed.cyclic_duration),
        direction=pl.lit(None, schema.DIRECTION),
        rows=pl.Series(rows, dtype=pl.List(schema.ROW)),
    ).select(*FOUND)


def describe(context: Context, motion: str, found: pl.DataFrame, p: Parameters) -> str:
    allowed = motor_limits(context.machine, motion)
    if allowed is None:
        return ""
    peak, limit = 100 * extent(found)[1], 100 * allowed.cyclic_duration
    return f"up to {peak:.0f} % of {allowed.window_s / 60:g} min where {limit:.0f} % is allowed ({sourced(allowed)})"


EXAMPLE = """
5 s
hoist.raise.contactor  (.)*200(######....)*20(.)*200
"""

PATTERN = Pattern(
    name="cyclic_duration_high",
    title="cyclic duration too high",
    parameters=Parameters,
    find=find,
    motions=tuple(signals.MOTIONS),
    needs=(("{motion}.*.contactor",), ("{motion}.*.command",)),
    severity="watch",
    why_severity="the motor heats beyond what it was built for",
    usually="work above the machine's group, long hook paths",
    unit="share of the window",
    look_back_s=3600.0,
    settles_s=3600.0,  # a window that overlaps it makes it longer
    exposure="running_h",
    least_log_s=600.0,
    setting=missing_group,
    describe=describe,
    example=EXAMPLE,
)
