"""Motor heat, and whether a busy hour explains it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.causes.complaints import Complaint
from eventlens.causes.evidence._presence import presence
from eventlens.causes.signs import Sign, lines_behind, share_factor, tail

BUSY: Final = 0.8
"""Share of the runs that have no more starts in the hour before than a busy hour (judgement)."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of the heat of the complaint's motor."""
    motion = complaint.motion
    if motion is None or f"{motion}.motor.hot" not in complaint.subject.carried:
        return
    yield from presence(complaint, "motor_hot", ["motor_hot"])
    hot = complaint.subject.found(["motor_hot"], motion).select("start", "rows").sort("start")
    runs = complaint.subject.runs_of(motion).filter("start_seen")
    if hot.is_empty() or runs.height < 20:
        return
    before = runs.rolling("start", period="1h").agg(n=pl.len())
    busy = float(before["n"].quantile(BUSY) or 0.0)
    at = hot.join_asof(before, on="start", strategy="backward").fill_null(0)
    hits = at.filter(pl.col("n") >= busy).height
    text = (
        f"{hits} of {at.height} with {busy:.0f} starts or more in the hour before, as {1 - BUSY:.0%} of all runs have"
    )
    factor = share_factor(hits, at.height, 1 - BUSY, 0.9)
    rows = lines_behind(hot)
    yield Sign("hot_after_duty", factor, text, rows, tail(hits, at.height, 1 - BUSY))
    yield Sign("hot_in_light_use", 1 / factor, text, rows)
