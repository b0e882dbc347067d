"""Parts that wear by operations: equivalent starts, contactor tips between AC-3 and AC-4, brake, relays, rope.

Equivalent starts stand beside raw starts, never instead of them: the limits of the groups count every start.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import polars as pl

from eventlens.errors import EventlensError
from eventlens.limits import limit, reversal_pause_s


@dataclass(frozen=True)
class Category:
    """A utilisation category of contactors."""

    use: str
    make: float
    """Current that it makes in the test of electrical life, in rated currents."""
    breaks: float
    """Current that it breaks there, in rated currents."""
    confidence: str
    """Of the figures (duty.groups.CONFIDENCES)."""


CATEGORIES: Final[Mapping[str, Category]] = MappingProxyType(
    {
        "AC-1": Category("loads that are not or hardly inductive", 1, 1, "from memory"),
        "AC-2": Category("slip-ring motors: start, switch off", 2.5, 2.5, "from memory"),
        "AC-3": Category("cage motors: start, switch off while running", 6, 1, "confirmed"),
        "AC-4": Category("cage motors: start, plugging, inching", 6, 6, "confirmed"),
    }
)
"""IEC 60947-4-1."""


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
        """Share of the contactor operations in AC-4 service (inching, plugging; see CATEGORIES), 0 to 1."""
        return (self.jogs + self.plug_stops + self.plug_reversals) / self.starts if self.starts else 0.0


def operations(runs: pl.DataFrame, jog: pl.Expr, weights: StartWeights) -> Operations:
    """The operations of one motion. runs: schema.RUNS of the motion; jog: expression that tells a jog."""
    begun = runs.filter("start_seen")
    plug = (pl.col("reversed") & (pl.col("pause_s") < weights.reversal_pause_s)).fill_null(value=False)
    jogs, stops, reversals = begun.select(
        (jog & ~plug).sum().alias("jogs"), (jog & plug).sum().alias("stops"), (~jog & plug).sum().alias("reversals")
    ).row(0)
    full = begun.height - jogs - stops - reversals
    weighed = weights.weight_jog * jogs + weights.weight_plug_stop * stops + weights.weight_plug_reversal * reversals
    return Operations(
        begun.height, int(jogs), int(stops), int(reversals), runs.filter("end_seen").height, full + weighed
    )


def mixed_life(ac3: float, ac4: float, ac4_share: float) -> float:
    """Electrical life of contactor tips [operations] in mixed service: N = A / (1 + c (A/B - 1)).

    ac3, ac4: life in pure AC-3 and AC-4 service at the motor's current [operations], from the part's data;
    ac4_share: c, 0 to 1. The same as linear damage, 1/N = (1 - c)/A + c/B (contactor makers' guides; agrees with a
    published table within its rounding). EventlensError for figures that cannot be.
    """
    if not (ac3 > 0 and ac4 > 0 and 0 <= ac4_share <= 1):
        raise EventlensError("lives above 0 and a share from 0 to 1", f"{ac3:g}, {ac4:g}, {ac4_share:g}", "check them")
    return ac3 / (1 + ac4_share * (ac3 / ac4 - 1))


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
