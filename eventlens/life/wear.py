"""Operations that wear: which starts are jogs or plugging, what they weigh as complete starts, bending of the rope.

Equivalent starts stand beside raw starts, never instead of them: the limits of the groups count every start. The form
of FEM 1.001 for them is left out: it is remembered, its page was not at hand (see `weight_jog`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from eventlens.duty.windows import HOUR_S, Peak, peak_of, to_whole, whole_microseconds
from eventlens.errors import EventlensError
from eventlens.limits import limit, reversal_pause_s
from eventlens.motion.near import merged


@dataclass(frozen=True)
class StartWeights:
    """What an operation counts as, in complete starts to rated speed, and what tells the kinds apart."""

    reversal_pause_s: float = reversal_pause_s()
    weight_jog: float = limit(
        0.25,
        "starts",
        "two motor guides: a start that ends at or below a quarter of the rated speed; FEM 1.001 is remembered as 0.5 "
        "for cage motors, from memory",
        "raising it weighs inching more; it never touches the limits, which count raw starts",
    )
    weight_plug_stop: float = limit(
        0.8,
        "starts",
        "two motor guides: electric braking down to a third of the rated speed",
        "raising it weighs stops by a touch of the other direction more",
    )
    weight_plug_reversal: float = limit(
        1.8,
        "starts",
        "one motor guide: braking against the motion counts 0.8, the new start 1",
        "raising it weighs reversals against a moving motor more",
    )

    @property
    def source(self) -> str:
        return "weights of motor guides" if self.confidence != "machine file" else "weights of the machine file"

    @property
    def confidence(self) -> str:
        """Of the weights (duty.groups.CONFIDENCES): one is in one guide alone."""
        usual = StartWeights()
        same = all(getattr(self, name) == getattr(usual, name) for name in _WEIGHTS)
        return "from one place" if same else "machine file"


_WEIGHTS: Final = ("weight_jog", "weight_plug_stop", "weight_plug_reversal")
KINDS: Final = ("complete", "jog", "plug_stop", "plug_reversal")
"""Kinds of starts: complete ones; jogs that found the motion at rest; jogs the other way within the pause in which it
still moves, which brake it and no more; complete starts the other way within that pause."""


@dataclass(frozen=True)
class Operations:
    """What the log proves of one motion's operations. Runs whose start was not seen are in none of them."""

    starts: int
    """Raw starts: complete ones, jogs, plug stops and plug reversals."""
    jogs: int
    """Those that found the motion at rest."""
    plug_stops: int
    """Jogs the other way within the pause in which the motion still moves: they brake it, no more."""
    plug_reversals: int
    """Complete starts the other way within that pause."""
    brake_stops: int
    """Runs whose end was seen: each one is a stop by the brake."""
    equivalent: float
    """Equivalent starts."""

    @property
    def ac4_share(self) -> float:
        """Share of the contactor operations in AC-4 service (inching, plugging; see contactors.CATEGORIES), 0 to 1."""
        return (self.jogs + self.plug_stops + self.plug_reversals) / self.starts if self.starts else 0.0


@dataclass(frozen=True)
class StartsPerHour:
    """Raw and equivalent starts of one motion, side by side. Limits are held against the raw ones alone."""

    raw: Peak
    """Most raw starts in any hour (t - 3600 s, t], and the first t that has them."""
    equivalent: Peak
    """The same of equivalent starts; its hour may be another one."""
    raw_mean: float
    """Per hour of observed time."""
    equivalent_mean: float
    source: str
    confidence: str
    """Of the weights."""


def kinds_of_starts(runs: pl.DataFrame, jog: pl.Expr, weights: StartWeights) -> pl.DataFrame:
    """(start, direction, segment, kind: one of KINDS, weight [complete starts]) of the runs whose start was seen.

    runs: schema.RUNS of one motion; jog: expression that tells a jog.
    """
    plug = (pl.col("reversed") & (pl.col("pause_s") < weights.reversal_pause_s)).fill_null(value=False)
    short = pl.when(plug).then(_kind("plug_stop")).otherwise(_kind("jog"))
    long = pl.when(plug).then(_kind("plug_reversal")).otherwise(_kind("complete"))
    weighs = {"complete": 1.0, **{name.removeprefix("weight_"): getattr(weights, name) for name in _WEIGHTS}}
    kind = pl.when(jog).then(short).otherwise(long)
    begun = runs.lazy().select("start_seen", "start", "direction", "segment", kind=kind).filter("start_seen")
    known = begun.drop("start_seen").collect()
    weight = pl.Series([weighs[kind] for kind in KINDS]).gather(known["kind"].to_physical())
    return known.with_columns(weight=weight)


def _kind(name: str) -> pl.Expr:
    return pl.lit(name, pl.Enum(KINDS))


def operations(begun: pl.DataFrame, brake_stops: int) -> Operations:
    """The operations of one motion. begun: from `kinds_of_starts`; brake_stops: runs whose end was seen."""
    counted = dict(begun["kind"].value_counts().iter_rows())
    return Operations(
        begun.height,
        counted.get("jog", 0),
        counted.get("plug_stop", 0),
        counted.get("plug_reversal", 0),
        brake_stops,
        float(begun["weight"].sum()),
    )


def busiest_weight(begun: pl.DataFrame, window_s: float = HOUR_S) -> Peak | None:
    """Largest weight of the starts in any window (t - window_s, t] and the first start t that has it.

    begun: (start: schema.TIME on an axis without clock steps, weight); None without a start.
    """
    ordered = begun.select("start", "weight").sort("start")
    at, weight = to_whole(ordered["start"]), ordered["weight"].to_numpy()
    upto = np.concatenate(([0.0], np.cumsum(weight)))
    left = merged(at, at - whole_microseconds(window_s), "right")
    within = upto[merged(at, at, "right")] - upto[left]
    # differences of sums carry dust: without it the first of equals is found
    return peak_of(ordered.select(pl.col("start").alias("time"), pl.Series("weight", within.round(9))), "weight")


def full_paths(heights: pl.DataFrame, path_m: float) -> float:
    """How many times the hook went up and down its whole path: travelled way over twice the path.

    heights: (value: measured heights of the hook in the order of time [m], segment); the way in a hole of the log is
    not known and counts as none. path_m: the hook path [m]. Each full path bends the rope over every sheave it runs
    through, there and back (common practice, no source). EventlensError for a path of no length.
    """
    if path_m <= 0:
        raise EventlensError("a hook path above 0 m", f"{path_m:g}", "give it in the machine file")
    known = heights.filter(pl.col("value").is_finite())
    way = known.select(pl.col("value").diff().over("segment").abs().sum()).item()
    return float(way or 0.0) / (2 * path_m)
