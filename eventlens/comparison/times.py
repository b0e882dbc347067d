"""The measured times of runs before and after: where they lie, how far they moved, and whether they drift."""

from __future__ import annotations

from typing import Any, Final

import polars as pl

from eventlens import schema, signals
from eventlens.result import Review
from eventlens.statistics.discovery import adjusted
from eventlens.statistics.shift import shift
from eventlens.statistics.slope import daily_slope

TIMES: Final = ("contactor_delay_s", "release_time_s", "apply_time_s", "speed_change_delay_s")
"""Columns of schema.RUNS that are times of a part, not of a person."""


def compare_times(before: Review, after: Review, level: float) -> tuple[pl.DataFrame, int]:
    """schema.TIMES for every motion and time that both sides hold, and how many comparisons were made.

    level: confidence, in (0, 1). A shift counts where it is at least the coarser log step: smaller ones are not seen.
    """
    step_s = max(before.log.step_s, after.log.step_s)
    rows = [row for motion in signals.MOTIONS for time in TIMES if (row := _row(before, after, motion, time, level))]
    made = [row for row in rows if row["p"] is not None]
    for row, value in zip(made, adjusted([row["p"] for row in made]), strict=True):
        row["p_adjusted"] = value
        if value <= 1 - level and abs(row["shift_s"]) >= step_s:
            row["verdict"] = "longer" if row["shift_s"] > 0 else "shorter"
    return schema.TIMES.check(pl.DataFrame(rows, schema=schema.TIMES.schema)), len(made)


def _row(before: Review, after: Review, motion: str, time: str, level: float) -> dict[str, Any] | None:
    sides = {"before": before, "after": after}
    known = {
        name: side.runs.filter((pl.col("motion") == motion) & pl.col(time).is_not_null()).select("start", time)
        for name, side in sides.items()
    }
    if any(frame.is_empty() for frame in known.values()):
        return None
    row: dict[str, Any] = {"motion": motion, "time": time, "verdict": "not_shown", "p": None}
    for name, frame in known.items():
        values = frame[time]
        drift = daily_slope(frame["start"], values, sides[name].log.timezone, level)
        row |= {
            f"{name}_n": values.len(),
            f"{name}_median_s": values.median(),
            f"{name}_p95_s": values.quantile(0.95, interpolation="linear"),
            f"{name}_slope_s_per_day": drift.per_day if drift else None,
            f"{name}_slope_low": drift.low if drift else None,
            f"{name}_slope_high": drift.high if drift else None,
        }
    if moved := shift(known["before"][time], known["after"][time], level):
        row |= {"shift_s": moved.value, "shift_low_s": moved.low, "shift_high_s": moved.high, "p": moved.p}
    return row
