"""How heavily a mechanism is loaded: the cubic mean k of the load ratio over the running time, and km = k^3.

k and km are different things that circulate under one name. Here both are in one object that keeps them apart.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from eventlens.duty.load import Load, weighed
from eventlens.errors import EventlensError
from eventlens.life.groups import Loading, loading_named, loading_of


@dataclass(frozen=True)
class Spectrum:
    """The load spectrum of some running time."""

    km: float
    """Spectrum factor: running hours times km are hours of full load."""
    how: str
    """'measured', 'classes' (entered by hand) or 'assumed'."""
    known_h: float | None = None
    """Running time with a measured load [h]; None where it was not measured."""
    confidence: str = "confirmed"
    """Of the rule (duty.groups.CONFIDENCES): the cubic mean is confirmed, its full form with dead load from memory."""

    @property
    def k(self) -> float:
        """Cubic mean of the load ratio, the cube root of km."""
        return math.cbrt(self.km)

    @property
    def loading(self) -> Loading:
        """The state of loading that it belongs to."""
        # an assumed spectrum is its class itself; its rounded factor may lie just above the class's edge
        if self.how == "assumed":
            return next(item for item in (loading_named(f"L{n}") for n in range(1, 5)) if item.km == self.km)
        return loading_of(self.k)


def of_classes(shares: Sequence[tuple[float, float]], *, dead_ratio: float = 0.0) -> Spectrum:
    """From classes: (load ratio, share of the running time or any measure of it), empty running included.

    With the full form of FEM 9.511 the dead load (hook, block, rope) over the rated load is added to every load, also
    to the empty hook (from memory). EventlensError for negative figures or no time at all.
    """
    figures = np.array(shares, dtype=np.float64).reshape(-1, 2)
    if not len(figures) or min(float(figures.min()), dead_ratio) < 0 or not figures[:, 1].sum() > 0:
        raise EventlensError(
            "load classes as (ratio, share) not below 0, some time in all", f"{list(shares)}", "add it"
        )
    ratios, times = figures[:, 0] + dead_ratio, figures[:, 1]
    return Spectrum(float((ratios**3 * times).sum() / times.sum()), "classes", confidence=_sure(dead_ratio))


def assumed(loading: str) -> Spectrum:
    """The spectrum that a state of loading, L1 to L4, stands for: its largest."""
    return Spectrum(loading_named(loading).km, "assumed")


def of_loads(running: pl.DataFrame, load: Load, *, dead_ratio: float = 0.0) -> Spectrum | None:
    """From measured load over running time; None where no load is known while it runs. Arguments as for `heavy_s`."""
    each = heavy_s(running, load, dead_ratio=dead_ratio)
    known = float(each["known_s"].sum())
    if known <= 0:
        return None
    return Spectrum(float(each["heavy_s"].sum()) / known, "measured", known / 3600, _sure(dead_ratio))


def _sure(dead_ratio: float) -> str:
    return "from memory" if dead_ratio else "confirmed"


def heavy_s(running: pl.DataFrame, load: Load, *, dead_ratio: float = 0.0) -> pl.DataFrame:
    """(known_s, heavy_s) of each row of `running` [s]: time with a known load, and that weighed by the ratio cubed.

    running: (start, end, segment), apart; load: in shares of the rated load; dead_ratio: added to every load.
    """
    numbered = running.select("start", "end", "segment").with_row_index("n")
    weight = (pl.col("ratio") + dead_ratio) ** 3 * pl.col("s")
    sums = (
        weighed(numbered, load.steps)
        .group_by("n", maintain_order=True)
        .agg(known_s=pl.col("s").sum(), heavy_s=weight.sum())
    )
    each = numbered.select("n").join(sums, on="n", how="left", maintain_order="left")
    return each.select(pl.col("known_s", "heavy_s").fill_null(0.0))
