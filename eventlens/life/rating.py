"""Motors by IEC 60034-1: the types of duty, and what a motor's plate would have to say for a use.

Minutes of short-time duty S2 for each group are left out: what is remembered of them was found nowhere, so the motor's
own plate gives them (`run_longest_s` in the machine file).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from eventlens.duty.groups import CONFIDENCES


@dataclass(frozen=True)
class DutyType:
    """A type of duty."""

    meaning: str
    designation: str
    """An example of how a plate says it."""
    confidence: str
    """Of meaning and designation (duty.groups.CONFIDENCES)."""
    factor: str | None = None
    """Cyclic duration factor: tp running, tD starting, tF electric braking, T the cycle; None where there is none."""
    factor_confidence: str = "confirmed"


DUTY_TYPES: Final[Mapping[str, DutyType]] = MappingProxyType(
    {
        "S1": DutyType("continuous running", "S1", "confirmed"),
        "S2": DutyType("short time, then rest until cold", "S2 60 min", "confirmed"),
        "S3": DutyType(
            "equal cycles of running and rest, starts do not heat", "S3 25 %", "confirmed", "tp / T", "confirmed"
        ),
        "S4": DutyType(
            "equal cycles of running and rest, starts heat too",
            "S4 25 % JM = 0.15 kgm2 Jext = 0.7 kgm2",
            "confirmed",
            "(tD + tp) / T",
            "from memory",
        ),
        "S5": DutyType(
            "equal cycles of running and rest, starts and electric braking heat too",
            "S5 30 % JM Jext",
            "confirmed",
            "(tD + tp + tF) / T",
            "from memory",
        ),
    }
)
"""A run of a log is the time that the motor is switched on, so starting and electric braking are within it, as the
factors of S4 and S5 have it. The cycle is ten minutes unless stated otherwise (clause from memory)."""

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

    duty: str
    """A key of DUTY_TYPES."""
    meaning: str
    cyclic_duration: float | None
    """The preferred value, 0 to 1; None above all: continuous duty, S1."""
    starts_per_hour: int | None
    """The starting class; None above all."""
    confidence: str
    """That of the least sure of the figures that decided."""
    source: str


def motor_rating(cyclic_duration: float, starts_per_hour: float) -> MotorRating:
    """The smallest rating that holds a use: duty S4, since starts heat a hoist's motor, or S1 above its values.

    cyclic_duration: largest share of running time in any ten minutes, 0 to 1; starts_per_hour: most raw starts in any
    hour.
    """
    share, sure = next((item for item in PREFERRED_DURATIONS if cyclic_duration <= item[0]), (None, "confirmed"))
    begun = next((item for item in STARTING_CLASSES if starts_per_hour <= item), None)
    name = "S1" if share is None else "S4"
    duty = DUTY_TYPES[name]
    # the starting classes are from two guides that may share a root
    least = max(sure, duty.confidence, duty.factor_confidence, "from one place", key=CONFIDENCES.index)
    source = f"IEC 60034-1, duty {name}; starting classes of crane motors"
    return MotorRating(name, duty.meaning, share, begun, least, source)
