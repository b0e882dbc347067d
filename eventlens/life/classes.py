"""American classes beside the groups: classes of crane service by lifts and load, and which classes are alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from eventlens.life.groups import iso_group


@dataclass(frozen=True)
class CraneClass:
    """A class of crane service."""

    name: str
    service: str
    most_lifts_per_h: float | None
    """Lifts per working hour up to which it holds; None: no bound."""
    most_at_rated: float | None
    """Share of the lifts at the rated load up to which it holds, 0 to 1; None: no bound is given."""
    confidence: str
    mean_lift_ft: float | None = None
    """Mean height of its lifts [ft]; None: none is given."""
    source: str = "CMAA 70 and 74"


CRANE_CLASSES: Final = (
    CraneClass("A", "standby", 2, None, "from one place", 10),
    CraneClass("B", "light", 5, None, "confirmed", 10),
    CraneClass("C", "moderate", 10, 0.50, "confirmed", 15),
    CraneClass("D", "heavy", 20, 0.65, "confirmed", 15),
    CraneClass("E", "severe", None, None, "from memory"),
    CraneClass("F", "continuous severe", None, None, "from memory"),
)
"""In ascending order. F is severe service through the whole life: no log of some weeks can tell it from E, which is
given for both. The mean lifts decide nothing here: few logs carry a height."""

ALIKE: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {
        "M2": ("H1", "A"),
        "M3": ("H2", "B"),
        "M4": ("H3", "C"),
        "M5": ("H4", "D"),
        "M6": ("H4", "D"),
        "M7": ("H4 to H5", "D to E"),
    }
)
"""Group -> ASME HST class and CMAA class that are about the same: guidance, sources differ by a step at H2/H3."""


def crane_class(lifts_per_h: float, at_rated: float | None) -> CraneClass:
    """The class that a use needs: lifts per working hour, and the share of lifts near or above the rated load, 0 to 1.

    at_rated None: no load is known, lifts alone decide. A and B bound the lifts only.
    """

    def holds(item: CraneClass) -> bool:
        by_lifts = item.most_lifts_per_h is None or lifts_per_h <= item.most_lifts_per_h
        by_load = at_rated is None or item.most_at_rated is None or at_rated <= item.most_at_rated
        return by_lifts and by_load

    return next(item for item in CRANE_CLASSES if holds(item))


def alike(group: str) -> tuple[str, str] | None:
    """The ASME HST class and the CMAA class that a group is about like; None where the crosswalk has none."""
    name = iso_group(group)
    return ALIKE.get(name) if name else None
