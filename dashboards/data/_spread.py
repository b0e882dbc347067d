"""Measured times of one review: how its runs are spread, against the limit."""

from __future__ import annotations

import numpy as np
import polars as pl

from dashboards import words
from dashboards.bins import Reals
from dashboards.data._limits import beyond, borders, limit_of, shares
from dashboards.tables import SpreadView
from eventlens import signals
from eventlens.comparison.times import TIMES
from eventlens.report.comparison import TIME
from eventlens.report.words import figure
from eventlens.result import Review


def spreads(review: Review) -> list[SpreadView]:
    """Each measured time of each motion that the log knows of."""
    views = []
    for motion in signals.MOTIONS:
        runs = review.runs.filter(pl.col("motion") == motion)
        for time in TIMES:
            values = np.asarray(runs[time].drop_nulls().to_numpy(), np.float64)
            if len(values):
                views.append(_view(f"{motion}: {TIME[time]}", time, values, review))
    return views


def _view(title: str, time: str, values: Reals, review: Review) -> SpreadView:
    limit, name, least = limit_of(time, review.machine.limits)
    edges = borders([values], limit, review.log.step_s)
    median, high = float(np.median(values)), float(np.quantile(values, 0.95))
    wrong = beyond(values, limit, least=least)
    side = "below" if least else "above"
    return SpreadView(
        title=title,
        borders=edges,
        share=shares(values, edges),
        count=len(values),
        median=median,
        high=high,
        beyond=wrong,
        limit=limit,
        limit_name=name,
        least=least,
        reading=(
            f"Median {figure(median)} s, 95 in 100 within {figure(high)} s; {f'{wrong:,}' if wrong else 'none'} of "
            f"{words.counted(len(values), 'run')} {side} the limit of {figure(limit)} s."
        ),
    )
