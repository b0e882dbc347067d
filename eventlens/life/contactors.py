"""Contactors by IEC 60947-4-1: what a category makes and breaks, which one a use needs, and how long the tips last.

Each figure says how sure it is. A coil's limits decide nothing here, since no log carries the coil's voltage: they are
what a check with a meter is held against. Nor does the operating rate: no hoist comes near it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
import polars as pl

from eventlens.duty.groups import CONFIDENCES
from eventlens.duty.starts import busiest, sliding_starts
from eventlens.errors import EventlensError

SOURCE: Final = "IEC 60947-4-1"


@dataclass(frozen=True)
class Category:
    """A utilisation category; currents in rated operational currents."""

    use: str
    make: float
    """Current that it makes in the test of electrical life."""
    breaks: float
    """Current that it breaks there."""
    confidence: str
    """Of these two (duty.groups.CONFIDENCES)."""
    making_capacity: float
    """Current that it must be able to make a few times."""
    breaking_capacity: float
    """Current that it must be able to break a few times."""
    capacity_confidence: str
    """Of the two capacities."""


CATEGORIES: Final[Mapping[str, Category]] = MappingProxyType(
    {
        "AC-1": Category("loads that are not or hardly inductive", 1, 1, "from memory", 1.5, 1.5, "from memory"),
        "AC-2": Category("slip-ring motors: start, switch off", 2.5, 2.5, "from memory", 4, 4, "from memory"),
        "AC-3": Category("cage motors: start, switch off while running", 6, 1, "confirmed", 10, 8, "confirmed"),
        "AC-4": Category("cage motors: start, plugging, inching", 6, 6, "confirmed", 12, 10, "from memory"),
    }
)
"""AC-3 breaks at 0.17 of the rated voltage, AC-4 at the whole of it."""

OCCASIONAL: Final = ((60.0, 5), (600.0, 10))
"""Window [s] and most inching and plugging operations in it that AC-3 still covers (a footnote, from memory)."""

OPERATING_RATE_PER_H: Final = (3600, "from one place")
"""Most operations of a small contactor in an hour, and how sure the figure is."""


@dataclass(frozen=True)
class CoilLimits:
    """Limits of a coil's voltage in rated voltages, each as (lowest, highest)."""

    pick_up: tuple[float, float]
    """It closes and holds anywhere in this range."""
    drop_out_ac: tuple[float, float]
    """It opens somewhere in this range as the voltage falls."""
    drop_out_dc: tuple[float, float] | None
    source: str
    confidence: str


COIL_LIMITS: Final = (
    CoilLimits((0.85, 1.1), (0.2, 0.75), (0.1, 0.75), SOURCE, "from memory"),
    CoilLimits((0.8, 1.15), (0.2, 0.75), None, "a contactor's data sheet", "from one place"),
)
"""The standard's first; a part may do better than it."""


@dataclass(frozen=True)
class ContactorService:
    """The category that the contactors of one motion need, for a cage motor."""

    category: str
    """'AC-3' or 'AC-4': a key of CATEGORIES."""
    in_minute: int
    """Most inching and plugging operations of one contactor in any minute."""
    in_ten_minutes: int
    source: str
    confidence: str
    """That of the least sure of the figures that decided."""


def service_needed(severe: pl.DataFrame) -> ContactorService:
    """The category by how the inching and plugging operations crowd: AC-3 while they are occasional, else AC-4.

    severe: (start: schema.TIME on an axis without clock steps, direction) of each such operation.
    """
    minute, ten = (
        max((_most(part["start"], window) for part in severe.partition_by("direction")), default=0)
        for window, _ in OCCASIONAL
    )
    occasional = all(count <= most for count, (_, most) in zip((minute, ten), OCCASIONAL, strict=True))
    name = "AC-3" if occasional else "AC-4"
    least = max(CATEGORIES[name].confidence, "from memory", key=CONFIDENCES.index)
    return ContactorService(name, minute, ten, f"{SOURCE}, occasional inching", least)


def _most(starts: pl.Series, window_s: float) -> int:
    peak = busiest(sliding_starts(starts, window_s))
    return round(peak.value) if peak else 0


MIXED_SOURCE: Final = ("mixed service by contactor guides", "from one place")
"""Rule of `mixed_life`, and how sure it is: explicit in one guide; it agrees with a published table."""


def mixed_life(ac3: float, ac4: float, ac4_share: float) -> float:
    """Electrical life of contactor tips [operations] in mixed service: N = A / (1 + c (A/B - 1)).

    ac3, ac4: life in pure AC-3 and AC-4 service at the motor's current [operations], from the part's data;
    ac4_share: c, 0 to 1. The same as linear damage, 1/N = (1 - c)/A + c/B (contactor makers' guides; agrees with a
    published table within its rounding). EventlensError for figures that cannot be.
    """
    if not (ac3 > 0 and ac4 > 0 and 0 <= ac4_share <= 1):
        raise EventlensError("lives above 0 and a share from 0 to 1", f"{ac3:g}, {ac4:g}, {ac4_share:g}", "check them")
    return ac3 / (1 + ac4_share * (ac3 / ac4 - 1))


LIFE_BY_CURRENT: Final = ((1.0, 1.0), (1.5, 1.7), (2.0, 2.5), (2.5, 3.5), (3.0, 4.5), (4.0, 7.0), (5.0, 10.0))
"""(Rated current over the current that is broken, K: what the electrical life is multiplied by); from one place, beside
the rule of `mixed_life`."""


def life_factor(rated_a: float, breaks_a: float) -> float:
    """K of tips that break less than the current at which their life is rated (LIFE_BY_CURRENT).

    rated_a: that current [A]; breaks_a: what the motor draws when it is switched off [A], above 0 and not above
    rated_a. Between the points a straight line (common practice, no source), beyond the last one its value.
    EventlensError outside that range: such a contactor is too small, and nothing is known of its life.
    """
    if not 0 < breaks_a <= rated_a:
        raise EventlensError(
            "a current to break above 0 and not above the rated one", f"{breaks_a:g} A of {rated_a:g} A", "check both"
        )
    ratios, factors = zip(*LIFE_BY_CURRENT, strict=True)
    return float(np.interp(rated_a / breaks_a, ratios, factors))
