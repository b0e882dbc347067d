"""Groups of mechanisms: class of utilisation and state of loading -> group, and the hours of full load of each group.

FEM 9.511 and ISO 4301-1:1986, which agree; the edition of 2016 is built otherwise. The basis is a life of ten years.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from eventlens.duty.groups import CONFIDENCES, HOIST_CLASSES
from eventlens.errors import EventlensError, nearest
from eventlens.machine import FEM_TO_ISO, GROUPS

SOURCE: Final = "FEM 9.511 / ISO 4301-1:1986"
DURATION_SOURCE: Final = "FEM 9.755, Table 1"
ISO_TO_FEM: Final = MappingProxyType({iso: fem for fem, iso in FEM_TO_ISO.items()})


@dataclass(frozen=True)
class Utilisation:
    """One class of utilisation."""

    iso: str
    fem: str | None
    most_h_per_day: float
    """Average daily running time up to which the class holds [h]."""
    total_h: float
    """Running time over its life [h]."""
    confidence: str


@dataclass(frozen=True)
class Loading:
    """One state of loading."""

    iso: str
    name: str
    """The name in FEM 9.511."""
    most_k: float
    """Cubic mean of the load ratio up to which it holds."""
    km: float
    """Spectrum factor: the cube of `most_k`, rounded as the standard does."""
    meaning: str
    confidence: str


UTILISATIONS: Final = (
    Utilisation("T0", "V0.06", 0.12, 200, "from memory"),
    Utilisation("T1", "V0.12", 0.25, 400, "from one place"),
    Utilisation("T2", "V0.25", 0.5, 800, "from one place"),
    Utilisation("T3", "V0.5", 1, 1600, "from one place"),
    Utilisation("T4", "V1", 2, 3200, "from one place"),
    Utilisation("T5", "V2", 4, 6300, "from one place"),
    Utilisation("T6", "V3", 8, 12500, "confirmed"),
    Utilisation("T7", "V4", 16, 25000, "from one place"),
    Utilisation("T8", "V5", 24, 50000, "from one place"),
    Utilisation("T9", None, 24, 100000, "from memory"),
)
"""In ascending order. The daily times are confirmed from T1 on, the names of FEM are from memory. T9 has no daily time
of its own (more than 16 h, as T8), so that a daily time never leads to it; FEM has no name for it."""

LOADINGS: Final = (
    Loading("L1", "light", 0.50, 0.125, "rarely the largest load, as a rule light ones", "confirmed"),
    Loading("L2", "medium", 0.63, 0.25, "the largest load now and then, as a rule light ones", "confirmed"),
    Loading("L3", "heavy", 0.80, 0.50, "the largest load often, as a rule medium ones", "confirmed"),
    Loading("L4", "very heavy", 1.00, 1.00, "as a rule close to the largest load", "confirmed"),
)
"""In ascending order."""

DURATION_H: Final[Mapping[str, tuple[float, str]]] = MappingProxyType(
    {
        "M1": (100, "from one place"),
        "M2": (200, "from one place"),
        "M3": (400, "confirmed"),
        "M4": (800, "confirmed"),
        "M5": (1600, "confirmed"),
        "M6": (3200, "confirmed"),
        "M7": (6300, "confirmed"),
        "M8": (12500, "confirmed"),
    }
)
"""Group -> theoretical duration of service D [hours of full load], and how sure the figure is (FEM 9.755, Table 1)."""

_CELLS_FROM_ONE_PLACE: Final = {("L1", "T3"), ("L2", "T2")}


@dataclass(frozen=True)
class NeededGroup:
    """The group that a use asks for."""

    group: str
    """ISO 4301-1:1986 name, M1 to M8."""
    fem: str
    """The same group in FEM 9.511."""
    utilisation: str
    loading: str
    beyond: bool
    """The use is above the largest group."""
    source: str
    confidence: str
    """That of the least certain of the figures that decided."""


def iso_group(group: str) -> str | None:
    """The ISO name of a group; None for an ASME HST class. EventlensError for a group that is not known."""
    if group not in GROUPS:
        raise EventlensError("a group", f"'{group}'", nearest(group, GROUPS))
    return None if group in HOIST_CLASSES else FEM_TO_ISO.get(group, group)


def duration_h(group: str) -> tuple[float, str] | None:
    """Hours of full load that a group is built for, and the confidence; None for an ASME HST class: it has none."""
    name = iso_group(group)
    return DURATION_H[name] if name else None


def utilisation_of(hours_per_day: float) -> Utilisation:
    """The class of utilisation of an average daily running time [h], 0 to 24 (ISO 4301-1:1986, FEM 9.511).

    EventlensError outside that range.
    """
    if not 0 <= hours_per_day <= 24:
        raise EventlensError(
            "a daily running time from 0 to 24 h", f"{hours_per_day:g}", "divide by the days of the log"
        )
    return next(item for item in UTILISATIONS if hours_per_day <= item.most_h_per_day)


def loading_of(k: float) -> Loading:
    """The state of loading of a cubic mean k (not km) of the load ratio, not below 0; above 1 the highest: overload.

    ISO 4301-1:1986, FEM 9.511. EventlensError below 0.
    """
    if k < 0:
        raise EventlensError("a cubic mean of the load ratio, not below 0", f"{k:g}", "check the measured loads")
    return next((item for item in LOADINGS if k <= item.most_k), LOADINGS[-1])


def loading_named(name: str) -> Loading:
    """The state of loading by its ISO name, L1 to L4."""
    return next(item for item in LOADINGS if item.iso == name)


def group_of(loading: str, utilisation: str) -> tuple[str | None, bool]:
    """(Group, beyond): the cell of the matrix; None below M1 (blank in the standard), True above M8.

    The matrix is one diagonal: a step in either class is one group.
    """
    place = int(loading[1]) + int(utilisation[1]) - 2
    if place < 1:
        return None, False
    return f"M{min(place, 8)}", place > 8


def needed_group(hours_per_day: float, k: float) -> NeededGroup:
    """The group that a use needs: average daily running time [h], 0 to 24, and cubic mean k of the load ratio.

    A use below the matrix needs M1, the lowest group there is.
    """
    use, load = utilisation_of(hours_per_day), loading_of(k)
    group, beyond = group_of(load.iso, use.iso)
    cell = "from memory" if group in (None, "M1") or use.iso == "T0" else "confirmed"
    if (load.iso, use.iso) in _CELLS_FROM_ONE_PLACE:
        cell = "from one place"
    name = group or "M1"
    # the daily times decide, not the total hours: they are confirmed from T1 on
    daily = "from memory" if use.iso == "T0" else "confirmed"
    least = max((load.confidence, daily, cell), key=CONFIDENCES.index)
    return NeededGroup(name, ISO_TO_FEM[name], use.iso, load.iso, beyond, SOURCE, least)


def needed_class(on_time_per_hour: float, starts_per_hour: float) -> str | None:
    """The ASME HST class that a use needs: largest share of any hour running, 0 to 1, and most starts in any hour.

    The lowest of H2 to H5 whose two figures hold (H1 has those of H2); None above H5.
    """
    fits = (
        name
        for name, limits in HOIST_CLASSES.items()
        if name != "H1" and on_time_per_hour <= limits.cyclic_duration and starts_per_hour <= limits.starts_per_hour
    )
    return next(fits, None)
