"""The safe working period: hours of full load used, S = sum of km x T x f, against the group's duration D.

FEM 9.755 and ISO 12482. When S reaches D the mechanism is taken out of service until a qualified person has made the
general overhaul and fixed the conditions and the new period. A review of a log decides neither.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from eventlens.errors import EventlensError, nearest
from eventlens.life.groups import DURATION_SOURCE, duration_h
from eventlens.life.spectrum import Spectrum

RULE_AT_THE_END: Final = (
    "when the hours of full load reach the group's duration, take the hoist out of service until a qualified person "
    "has made the general overhaul and fixed the conditions and the new period (FEM 9.755, ISO 12482)"
)

ASSESSMENT: Final = (
    "where the maker gives no criteria, a special assessment not later than after 20 years, 10 for tower, loader and "
    "mobile cranes (ISO 12482-1:1995; found in one place)"
)

FACTORS: Final[Mapping[str, Mapping[str, tuple[float, str]]]] = MappingProxyType(
    {
        "FEM 9.755": MappingProxyType(
            {
                "automatic": (1.0, "from memory"),
                "counter_spectrum_estimated": (1.1, "confirmed"),
                "documented_production": (1.2, "confirmed"),
                "undocumented_production": (1.2, "confirmed"),
            }
        ),
        "ISO 12482": MappingProxyType(
            {
                "automatic": (1.0, "from one place"),
                "counter_read": (1.0, "from one place"),
                "counter_spectrum_estimated": (1.1, "from one place"),
                "documented_production": (1.2, "from one place"),
                "undocumented_production": (1.3, "from one place"),
                "unknown": (1.5, "from one place"),
            }
        ),
        "makers' manuals": MappingProxyType(
            {
                "counter_read": (1.2, "from one place"),
                "counter_spectrum_estimated": (1.2, "from one place"),
                "documented_production": (1.4, "from one place"),
                "undocumented_production": (1.5, "from one place"),
                "unknown": (1.5, "from one place"),
            }
        ),
    }
)
"""Set -> how the use was recorded -> recording factor f and its confidence. ISO 12482 gives counters that are read and
documented by hand the 1.0 of automatic records, and 1.1 to an estimate from a documented process: the latter is taken
where only the spectrum is estimated. FEM 9.755 has no factor for counters of loads, nor for a history that is unknown.
Makers' manuals: counter with log book (loads known or not), log book only, nothing."""


@dataclass(frozen=True)
class SafePeriod:
    """How much of the period is used."""

    used_h: float
    """S [hours of full load], earlier use included."""
    in_log_h: float
    """Of this in the log."""
    duration_h: float
    """D [hours of full load]."""
    factor: float
    factor_set: str
    recording: str
    source: str
    confidence: str
    """That of the least certain of factor, duration and spectrum."""

    @property
    def remaining_h(self) -> float:
        """D - S [hours of full load]; below 0: over."""
        return self.duration_h - self.used_h

    @property
    def share(self) -> float:
        """S / D."""
        return self.used_h / self.duration_h


def recording_factor(recording: str, factor_set: str) -> tuple[float, str]:
    """f and its confidence. EventlensError where the set is unknown, or has no factor for such a record."""
    if factor_set not in FACTORS:
        raise EventlensError("a set of recording factors", f"'{factor_set}'", nearest(factor_set, FACTORS))
    known = FACTORS[factor_set]
    if recording not in known:
        raise EventlensError(
            f"a way of recording that {factor_set} has a factor for", f"'{recording}'", "use the set of ISO 12482"
        )
    return known[recording]


def full_load_h(running_h: float, km: float, factor: float) -> float:
    """S of some running time: km x T x f [hours of full load] (FEM 9.755).

    running_h: T [h], not below 0; km: spectrum factor, the cube of the mean and not the mean, 0 to 1 (overload: above);
    factor: f, 1.0 to 1.5 by how the use was recorded (`recording_factor`).
    """
    return km * running_h * factor


def safe_period(
    group: str,
    running_h: float,
    spectrum: Spectrum,
    *,
    recording: str,
    factor_set: str = "FEM 9.755",
    used_before_h: float = 0.0,
) -> SafePeriod | None:
    """The safe working period of a mechanism; None for an ASME HST class, which knows no such period.

    running_h: running time of the log [h]; used_before_h: S before it, as the log book says [hours of full load].
    """
    duration = duration_h(group)
    if duration is None:
        return None
    factor, sure = recording_factor(recording, factor_set)
    own = full_load_h(running_h, spectrum.km, factor)
    order = ("confirmed", "from one place", "from memory")
    return SafePeriod(
        used_before_h + own,
        own,
        duration[0],
        factor,
        factor_set,
        recording,
        f"{DURATION_SOURCE}; factor of {factor_set}",
        max(sure, duration[1], spectrum.confidence, key=order.index),
    )
