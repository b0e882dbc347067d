"""What the overload patterns share: trips, with chatter about the limit taken as one."""

from __future__ import annotations

from typing import Any

import polars as pl

from eventlens.limits import limit
from eventlens.motion.near import latest, seconds
from eventlens.patterns._base import Context


def overload_merge_s() -> Any:
    """Gap below which two trips are one [s]."""
    return limit(
        2.0,
        "s",
        "common practice: a load that swings about the limit makes the device chatter",
        "raising it joins separate attempts; lowering it counts one swinging load several times",
    )


def snatch_s() -> Any:
    """How early in a raise run a trip is a snatch [s]."""
    return limit(
        1.0,
        "s",
        "common practice: the trade says 0.7 to 1 s",
        "raising it calls heavy lifts snatches; lowering it calls snatches overloads",
    )


def trips(context: Context, merge_s: float) -> pl.DataFrame:
    """Trips that were seen to begin: (start, end, rows, segment, into_raise_s, in_raise).

    into_raise_s: time since the raise run began [s], null outside one and where its beginning is not in the log.
    """
    return context.once(("trips", merge_s), lambda: _trips(context, merge_s))


def _trips(context: Context, merge_s: float) -> pl.DataFrame:
    on = context.states.on("overload.trip")
    apart = seconds("start", pl.col("end").shift(1)) >= merge_s
    new = (apart | (pl.col("segment") != pl.col("segment").shift(1))).fill_null(value=True)
    events = (
        on.with_columns(trip=new.cum_sum())
        .group_by("trip", maintain_order=True)
        .agg(
            pl.col("start", "start_seen", "segment").first(),
            pl.col("end").last(),
            rows=pl.concat_list("start_row", "end_row").list.explode(keep_nulls=False, empty_as_null=False),
        )
        .filter("start_seen")
    )
    raising = context.runs.filter((pl.col("motion") == "hoist") & (pl.col("direction") == "raise"))
    events = latest(events, pl.col("start"), raising, "raise")
    step = pl.duration(microseconds=round(context.step_s * 1e6))
    during = pl.col("start") <= pl.col("raise_end") + step
    timed = during & pl.col("raise_start_seen")
    return events.select(
        "start",
        "end",
        "rows",
        "segment",
        into_raise_s=pl.when(timed).then(seconds("start", "raise_start")),
        in_raise=during.fill_null(value=False),
    )
