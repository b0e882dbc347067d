"""Names of signals: `motion.direction.kind`, lower case; what each one means and of which kind it is."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

MOTIONS: Final = MappingProxyType(
    {"hoist": ("raise", "lower"), "trolley": ("left", "right"), "bridge": ("forward", "reverse")}
)
"""Each motion with its two directions."""

DIRECTIONS: Final = tuple(direction for pair in MOTIONS.values() for direction in pair)

_MACHINE_STATES: Final = {
    "overload.warning": "overload warning given",
    "overload.trip": "overload device has cut the lifting motion",
    "overload.fault": "overload device reports a fault of its own",
    "rope.slack": "slack rope or chain",
    "stop.emergency": "emergency stop operated",
    "supply.control": "control supply present",
    "supply.phase_fault": "phase lost, out of order or undervoltage",
    "fault.reset": "reset pressed",
}

_MACHINE_MEASURES: Final = {
    "load.kg": "load on the hook [kg]",
    "load.percent": "load on the hook as a share of the rated load [%]",
}


def _states_of(motion: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for direction in MOTIONS[motion]:
        found[f"{motion}.{direction}.command"] = f"operator asks for {motion} {direction}"
        found[f"{motion}.{direction}.contactor"] = f"contactor or drive output of {motion} {direction} is on"
        found[f"{motion}.{direction}.limit"] = f"final limit of {motion} {direction} operated"
        found[f"{motion}.{direction}.slowdown"] = f"slow-down limit of {motion} {direction} operated"
    found[f"{motion}.fast.command"] = f"operator asks for {motion} fast"
    found[f"{motion}.fast.contactor"] = f"fast output of {motion} is on"
    found[f"{motion}.brake.released"] = f"brake of {motion} confirms that it is released"
    found[f"{motion}.motor.hot"] = f"thermistor of the {motion} motor tripped"
    return found


def _measures_of(motion: str) -> dict[str, str]:
    found = {
        f"{motion}.motor.current_a": f"current of the {motion} motor [A]",
        f"{motion}.motor.temperature_c": f"temperature of the {motion} motor [degree C]",
        f"{motion}.speed_m_per_min": f"speed of {motion} [m/min]",
    }
    if motion == "hoist":
        found["hoist.height_m"] = "height of the hook [m]"
    else:
        found[f"{motion}.position_m"] = f"position of the {motion} [m]"
    return found


STATES: Final = MappingProxyType(
    {name: text for motion in MOTIONS for name, text in _states_of(motion).items()} | _MACHINE_STATES
)
"""Signals that are on, off or unknown, each with its meaning when on."""

MEASURES: Final = MappingProxyType(
    {name: text for motion in MOTIONS for name, text in _measures_of(motion).items()} | _MACHINE_MEASURES
)
"""Signals that carry a number, each with its meaning and unit."""

ALL: Final = tuple(STATES) + tuple(MEASURES)
"""Every signal name, in the fixed order that tables use."""


def motion_of(signal: str) -> str | None:
    """The motion a signal belongs to, or None for a signal of the machine as a whole."""
    head = signal.split(".", 1)[0]
    return head if head in MOTIONS else None


def opposite(motion: str, direction: str) -> str:
    """The other direction of the motion."""
    first, second = MOTIONS[motion]
    return second if direction == first else first
