"""What a mechanism's motor is built for: starts per hour and cyclic duration, by its group.

The tables are data; each line says how sure its figures are. None of the standards' full texts was at hand:
"confirmed" means found alike in independent places, "from one place" in a single one, "from memory" in none. Every
figure is a default: the motor's own plate replaces it through `DutyLimits` in the machine file.

Left out: the minutes of short-time duty S2 by group (remembered, found nowhere; the plate gives them, `run_longest_s`),
and the rules of handbooks that turn lifts into starts or daily hours (two forms of each circulate; a log counts both
itself).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Final

from eventlens.duty.windows import HOUR_S, TEN_MINUTES_S
from eventlens.errors import EventlensError, MachineError, nearest
from eventlens.limits import configure, limit
from eventlens.machine import FEM_TO_ISO, GROUPS, Machine
from eventlens.signals import MOTIONS

CONFIDENCES: Final = ("confirmed", "from one place", "from memory", "machine file")


@dataclass(frozen=True)
class GroupLimits:
    """What a motor may be asked: at most this many starts in any hour, and this share of any window running."""

    starts_per_hour: int
    cyclic_duration: float
    """Share of the window, 0 to 1."""
    window_s: float
    """Window of the cyclic duration [s]: ten minutes, for ASME HST classes the hour."""
    source: str
    confidence: str
    """One of CONFIDENCES: that of the less certain of the two figures."""


def _table(source: str, window_s: float, lines: dict[str, tuple[int, float, str]]) -> Mapping[str, GroupLimits]:
    return MappingProxyType(
        {
            group: GroupLimits(starts, percent / 100, window_s, source, confidence)
            for group, (starts, percent, confidence) in lines.items()
        }
    )


HOIST_MOTORS: Final = _table(
    "FEM 9.683, hoist motors, intermittent duty S3/S4",
    TEN_MINUTES_S,
    {  # starts per hour, cyclic duration [%]
        "M1": (90, 15, "from memory"),
        "M2": (120, 20, "from memory"),
        "M3": (150, 25, "confirmed"),
        "M4": (180, 30, "confirmed"),
        "M5": (240, 40, "confirmed"),
        "M6": (300, 50, "confirmed"),
        "M7": (360, 60, "from memory"),  # the pair was found in one place, its group is from memory
        "M8": (360, 60, "from memory"),
    },
)

TRAVEL_MOTORS: Final = _table(
    "FEM 9.683, travel motors",
    TEN_MINUTES_S,
    {
        "M1": (60, 10, "from memory"),
        "M2": (90, 15, "from memory"),
        "M3": (120, 20, "from memory"),
        "M4": (150, 25, "from memory"),
        "M5": (180, 30, "from memory"),
        "M6": (240, 40, "from memory"),
        "M7": (300, 50, "from memory"),
        "M8": (360, 60, "from memory"),
    },
)

HOIST_CLASSES: Final = _table(
    "ASME HST hoist duty classes, uniformly distributed work, on-time per hour",
    HOUR_S,
    {
        "H1": (75, 12.5, "confirmed"),
        "H2": (75, 12.5, "confirmed"),
        "H3": (150, 25, "confirmed"),
        "H4": (300, 50, "confirmed"),
        "H5": (600, 100, "confirmed"),
    },
)
"""The classes also allow a longer spell from cold, once: FROM_COLD."""

FROM_COLD: Final[Mapping[str, tuple[float, int]]] = MappingProxyType(
    {"H1": (15, 100), "H2": (15, 100), "H3": (30, 200), "H4": (30, 300)}
)
"""ASME HST class -> longest running time [min] and most starts of infrequent work that begins cold, in all and not per
hour (confirmed; H5 has none)."""

MEAN_LOAD: Final = 0.65
"""Mean load, over the rated load, that the ASME HST classes are meant for (from one place)."""


def limits_for(group: str, motion: str) -> GroupLimits | None:
    """The table's limits of a motion's motor, group as `machine.GROUPS` writes it.

    None for trolley and bridge in an ASME HST class: those are classes of the hoist alone.
    EventlensError for a group or motion that is not known.
    """
    if group not in GROUPS:
        raise EventlensError("a group", f"'{group}'", nearest(group, GROUPS))
    if motion not in MOTIONS:
        raise EventlensError("a motion", f"'{motion}'", nearest(motion, MOTIONS))
    if group in HOIST_CLASSES:
        return HOIST_CLASSES[group] if motion == "hoist" else None
    table = HOIST_MOTORS if motion == "hoist" else TRAVEL_MOTORS
    return table[FEM_TO_ISO.get(group, group)]


def _plate_starts(motor: str) -> Any:
    return limit(
        0.0,
        "1/h",
        "0: the group's figure; else the starts per hour on the motor's plate",
        f"raising it lets the {motor} motor be switched more often before that is a finding",
    )


def _plate_duration(motor: str) -> Any:
    return limit(
        0.0,
        "share",
        "0: the group's figure; else the cyclic duration on the motor's plate as a share (40 % is 0.40)",
        f"raising it lets the {motor} motor run longer in any window before that is a finding",
    )


@dataclass(frozen=True)
class DutyLimits:
    """The plates of the motors, where they differ from the group's table; 0 stands for the table."""

    hoist_starts_per_hour: float = _plate_starts("hoist")
    hoist_cyclic_duration: float = _plate_duration("hoist")
    trolley_starts_per_hour: float = _plate_starts("trolley")
    trolley_cyclic_duration: float = _plate_duration("trolley")
    bridge_starts_per_hour: float = _plate_starts("bridge")
    bridge_cyclic_duration: float = _plate_duration("bridge")


def motor_limits(machine: Machine, motion: str) -> GroupLimits | None:
    """The limits of a motion's motor: the table of its group, each figure replaced by the machine file's own.

    None where the machine file gives neither a group with a figure for this motion nor figures of its own.
    MachineError where it gives only one figure and no group could give the other, or a cyclic duration above 1.
    """
    own = configure(DutyLimits, machine.limits)
    starts: int = round(getattr(own, f"{motion}_starts_per_hour"))
    duration: float = getattr(own, f"{motion}_cyclic_duration")
    if duration > 1:
        raise MachineError(
            f"{motion}_cyclic_duration as a share from 0 to 1", str(duration), "write 40 % as 0.40 in [limits]"
        )
    group = machine.group_of(motion)
    table = limits_for(group, motion) if group else None
    if not starts and not duration:
        return table
    if table is None:
        if not (starts and duration):
            raise MachineError(
                f"both {motion}_starts_per_hour and {motion}_cyclic_duration in [limits]",
                "one of them",
                "add the other, or the group of this motion",
            )
        return GroupLimits(starts, duration, TEN_MINUTES_S, "machine file", "machine file")
    return replace(
        table,
        starts_per_hour=starts or table.starts_per_hour,
        cyclic_duration=duration or table.cyclic_duration,
        source="machine file" if starts and duration else f"machine file, else {table.source}",
        confidence="machine file" if starts and duration else table.confidence,
    )
