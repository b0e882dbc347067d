"""What refuses a direction on purpose, and whether the log settles that nothing did."""

from __future__ import annotations

import polars as pl

from eventlens import signals
from eventlens.motion.doubt import settled
from eventlens.motion.near import latest, without
from eventlens.patterns._base import Context


def not_refused(asked: pl.DataFrame, context: Context, motion: str, direction: str, within_s: float) -> pl.DataFrame:
    """The rows (start, end, segment; sorted by start) that nothing known refused in their first `within_s` seconds."""
    decided = pl.duration(microseconds=round((within_s + context.uncertainty_s) * 1e6))
    step = pl.duration(microseconds=round(context.step_s * 1e6))  # a release just after the press may show before it
    for blocker in _blockers(context, motion, direction):
        if asked.is_empty():
            break
        asked = latest(asked, pl.col("start") + decided, blocker, "block")
        gone = (pl.col("block_end") < pl.col("start") - step).fill_null(value=True)
        asked = without(asked.filter(gone), "block")
    return asked


def surely_not(asked: pl.DataFrame, next_start: pl.Expr, context: Context, motion: str, direction: str) -> pl.Series:
    """For each row: every device that could have refused is known to be off, or ruled out by the next start."""
    p = context.endings
    return settled(
        asked,
        pl.col("start"),
        next_start,
        context.states,
        motion,
        direction,
        same_way_again_s=p.same_way_again_s,
        stop_reset_s=p.stop_reset_s,
    )


def _blockers(context: Context, motion: str, direction: str) -> list[pl.DataFrame]:
    """Intervals in which something refuses this direction on purpose."""
    states, other = context.states, signals.opposite(motion, direction)
    names = [
        f"{motion}.{direction}.limit",
        f"{motion}.motor.hot",
        "stop.emergency",
        "supply.phase_fault",
        f"{motion}.{other}.command",
        f"{motion}.{other}.contactor",
    ]
    names += ["overload.trip", "overload.fault"] if direction == "raise" else []
    names += ["rope.slack"] if direction == "lower" else []
    found = [*(states.on(name) for name in names), states.off("supply.control")]
    return [intervals for intervals in found if intervals.height]
