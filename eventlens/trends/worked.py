"""What trends need of the work in a review: runs and work cycles day by day, those that are alike counted together.

They are rounded to steps that are finer than kinds of work differ (duty.kinds: one step is a factor of e in a length,
or half of a share), so that a week takes little room.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.duty.kinds import items_of_work
from eventlens.result import Review

WEEK: Final = "%G-W%V"
LENGTH_STEP: Final = 0.05
"""Of the logarithm of a length (a twentieth of what tells lengths apart)."""
SHARE_STEP: Final = 0.05
LOAD_STEP: Final = 0.02


def work_of(review: Review) -> pl.DataFrame:
    """schema.WEEK_WORK of a review."""
    rated = review.machine.machine.rated_load_kg
    local = pl.col("start").dt.convert_time_zone(review.log.timezone)
    load = _rounded("load", LOAD_STEP) if rated is not None else pl.col("load").round_sig_figs(2)
    parts = [
        items.with_columns(
            load.cast(pl.Float64),
            *(_rounded(name, SHARE_STEP) for name in ("fast", "together", "travel")),
            length_s=((pl.col("length_s").log() / LENGTH_STEP).round() * LENGTH_STEP).exp().round_sig_figs(4),
            week=local.dt.strftime(WEEK),
            day=local.dt.strftime("%Y-%m-%d"),
            machine=pl.lit(review.machine.machine.id),
            subject=pl.lit(subject),
            load_unit=pl.lit("kg" if rated is None else "share"),
            count=pl.lit(1, pl.UInt32),
        ).select(pl.col(name).cast(column.dtype) for name, column in schema.WEEK_WORK.columns.items())
        for subject, items in items_of_work(review.runs, rated).items()
    ]
    return counted(parts)


def counted(parts: Sequence[pl.DataFrame]) -> pl.DataFrame:
    """The rows of several tables schema.WEEK_WORK, those that are alike as one."""
    every = pl.concat([schema.WEEK_WORK.empty(), *parts])
    alike = [name for name in schema.WEEK_WORK.columns if name != "count"]
    return every.group_by(alike).agg(pl.col("count").sum()).sort(*schema.WEEK_WORK.sort, maintain_order=True)


def _rounded(name: str, step: float) -> pl.Expr:
    return ((pl.col(name) / step).round() * step).round(2)
