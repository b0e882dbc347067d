"""American classes beside the groups: classes of crane service by lifts and load, and which classes are alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from eventlens.duty.groups import CONFIDENCES
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
    source: str = "CMAA 70 and 74"


CRANE_CLASSES: Final = (
    CraneClass("A", "standby", 2, None, "from one place"),
    CraneClass("B", "light", 5, None, "confirmed"),
    CraneClass("C", "moderate", 10, 0.50, "confirmed"),
    CraneClass("D", "heavy", 20, 0.65, "confirmed"),
    CraneClass("E", "severe", None, None, "from memory"),
)
"""In ascending order. Class F, continuous severe service through its life, no log of some weeks can tell from E. The
mean lifts of the classes, 10 ft (A, B) and 15 ft (C, D), do not decide here."""

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


PREFERRED_DURATIONS: Final = (
    (0.15, "from memory"),
    (0.25, "from one place"),
    (0.40, "from one place"),
    (0.60, "from one place"),
)
"""Preferred cyclic durations of motors in duty S3 to S5 (IEC 60034-1), and how sure each is."""

STARTING_CLASSES: Final = (6, 150, 300, 600)
"""Starts per hour that crane motors are rated for (two motor guides)."""


@dataclass(frozen=True)
class MotorRating:
    """What a motor's plate would have to say for a use."""

    cyclic_duration: float | None
    """The preferred value, 0 to 1; None above all: continuous duty, S1."""
    starts_per_hour: int | None
    """The starting class; None above all."""
    confidence: str
    source: str = "IEC 60034-1, duty S4; starting classes of crane motors"


def motor_rating(cyclic_duration: float, starts_per_hour: float) -> MotorRating:
    """The smallest rating of duty S4 that holds a use.

    cyclic_duration: largest share of running time in any ten minutes, 0 to 1; starts_per_hour: most starts in any hour.
    """
    share, sure = next((item for item in PREFERRED_DURATIONS if cyclic_duration <= item[0]), (None, "confirmed"))
    begun = next((item for item in STARTING_CLASSES if starts_per_hour <= item), None)
    return MotorRating(share, begun, max(sure, "from one place", key=CONFIDENCES.index))
