"""How heavily a mechanism is loaded: the cubic mean k of the load ratio over the running time, and km = k^3.

k and km are different things that circulate under one name. Here both are in one object that keeps them apart.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlens.errors import EventlensError
from eventlens.life.groups import Loading, loading_named, loading_of

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Spectrum:
    """The load spectrum of some running time."""

    km: float
    """Spectrum factor: running hours times km are hours of full load."""
    how: str
    """'measured', 'classes' (entered by hand) or 'assumed'."""
    known_h: float | None = None
    """Running time with a measured load [h]; None where it was not measured."""

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
    return Spectrum(float((ratios**3 * times).sum() / times.sum()), "classes")


def assumed(loading: str) -> Spectrum:
    """The spectrum that a state of loading, L1 to L4, stands for: its largest."""
    return Spectrum(loading_named(loading).km, "assumed")


def of_loads(running: pl.DataFrame, loads: pl.DataFrame, rated_kg: float, *, dead_kg: float = 0.0) -> Spectrum | None:
    """From measured load over running time; None where no load is known while it runs. Arguments as for `weighed`."""
    each = weighed(running, loads, rated_kg, dead_kg=dead_kg)
    known = float(each["known_s"].sum())
    return Spectrum(float(each["heavy_s"].sum()) / known, "measured", known / 3600) if known > 0 else None


def weighed(running: pl.DataFrame, loads: pl.DataFrame, rated_kg: float, *, dead_kg: float = 0.0) -> pl.DataFrame:
    """(known_s, heavy_s) of each row of `running` [s]: time with a known load, and that weighed by the ratio cubed.

    running: (start, end); loads: (time, value [kg], segment) by time. A load holds until the next record of its
    segment, nothing is carried over a hole. Loads below zero (an empty scale that drifts) count as none.
    """
    spans, ratios = _steps(loads, rated_kg, dead_kg)
    heavy, known = _integral(spans, ratios**3), _integral(spans, np.ones(len(ratios)))
    start, end = (running[name].dt.timestamp("us").to_numpy() for name in ("start", "end"))
    return pl.DataFrame(
        {"known_s": (known(end) - known(start)) / 1e6, "heavy_s": (heavy(end) - heavy(start)) / 1e6},
        schema={"known_s": pl.Float64, "heavy_s": pl.Float64},
    )


def _steps(loads: pl.DataFrame, rated_kg: float, dead_kg: float) -> tuple[Array, Array]:
    """(from, to) [us] of each known load and its ratio to the rated load."""
    known = loads.with_columns(
        until=pl.when(pl.col("segment").shift(-1) == pl.col("segment")).then(pl.col("time").shift(-1))
    ).filter(pl.col("until").is_not_null() & pl.col("value").is_finite())
    spans = known.select(pl.col("time", "until").dt.timestamp("us")).to_numpy().astype(np.float64)
    return spans, (known["value"].clip(0.0).to_numpy() + dead_kg) / rated_kg


class _integral:  # noqa: N801 -- a function with a memory
    """The integral of a step function up to any instants."""

    def __init__(self, spans: Array, heights: Array) -> None:
        self.spans, self.heights = spans, heights
        self.whole = np.concatenate([[0.0], np.cumsum((spans[:, 1] - spans[:, 0]) * heights)])

    def __call__(self, at: npt.NDArray[np.int64]) -> Array:
        if not len(self.spans):
            return np.zeros(len(at))
        begun = np.searchsorted(self.spans[:, 0], at, side="right")
        last = np.maximum(begun - 1, 0)
        beyond = np.where(begun > 0, np.maximum(self.spans[last, 1] - at, 0.0) * self.heights[last], 0.0)
        area: Array = self.whole[begun] - beyond
        return area
