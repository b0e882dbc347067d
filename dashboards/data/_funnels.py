"""Machines side by side: rates over use, between exact limits that open towards little use."""

from __future__ import annotations

from typing import Final

import numpy as np
import polars as pl

from dashboards import words
from dashboards.data._names import parts_of, series_name
from dashboards.data._rates import scale_for
from dashboards.series import FunnelView
from eventlens import patterns
from eventlens.statistics.funnel import LEVELS, funnel_limits
from eventlens.trends import Trends

_PLACES: Final = 120
"""Points of a limit's curve: about one for every five pixels of it."""


def view(found: Trends, key: str) -> FunnelView:
    """One pattern of all machines that have a use for it; KeyError where there is none such."""
    pattern, motion = parts_of(key)
    same = pl.col("motion").is_null() if motion is None else pl.col("motion").cast(pl.String) == motion
    rows = found.funnel.filter((pl.col("pattern") == pattern) & same).sort("amount")
    if rows.is_empty():
        raise KeyError(key)
    first = rows.row(0, named=True)
    scale = scale_for(float(rows["high"].median()), first["exposure"])  # type: ignore[arg-type]
    own = _bursts(found, rows)
    bursts = float(np.average(own, weights=np.maximum(rows["count"].to_numpy().astype(float), 1e-9)))
    use = np.geomspace(float(rows["amount"][0]) * 0.7, float(rows["amount"][-1]) * 1.15, _PLACES)
    limits = [
        np.asarray(side) * scale.per
        for level in LEVELS
        for side in funnel_limits(first["centre"], use / bursts, level, first["spread"])
    ]
    names = ("rate", "low", "high", "low_outer", "high_outer")
    frame = rows.select("machine", "count", "amount", *(pl.col(name) * scale.per for name in names), "beyond", own)
    return FunnelView(
        title=series_name(first),
        frame=frame,
        centre=first["centre"] * scale.per,
        use=use,
        limits=(limits[0], limits[1], limits[2], limits[3]),
        of=patterns.EXPOSURES[first["exposure"]],
        scale=scale,
        reading=_reading(rows),
    )


def _bursts(found: Trends, rows: pl.DataFrame) -> pl.Series:
    """By what occurrences of each machine come in bursts; the funnel's limits are wider by what they do together."""
    wide = found.rates.select("machine", "pattern", "motion", "spread").rename({"spread": "bursts"})
    return rows.join(wide, on=["machine", "pattern", "motion"], how="left", nulls_equal=True)["bursts"].fill_null(1.0)


def _reading(rows: pl.DataFrame) -> str:
    """Which machines lie beyond the limits."""
    above, below = (rows.filter(side)["machine"].to_list() for side in (pl.col("beyond") > 0, pl.col("beyond") < 0))
    inside = rows.height - len(above) - len(below)
    said = [f"{_many(names)} {where} the limits" for names, where in ((above, "above"), (below, "below")) if names]
    rest = f"{words.counted(inside, 'machine')} within them, not told apart by chance alone" if inside else ""
    text = "; ".join([*said, rest] if rest else said)
    return f"{text}." if said else f"All {rest}."


def _many(names: list[str]) -> str:
    return f"{', '.join(names)} {'lies' if len(names) == 1 else 'lie'}"
