"""The machine file: rating plate, limits of its own, earlier use. Every key has a default; an unknown key is an error.

Groups follow FEM 9.511 (1Dm to 5m), ISO 4301-1:1986 (M1 to M8) and ASME HST (H1 to H5).
"""

from __future__ import annotations

import math
import re
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Final, Literal

from pydantic import AfterValidator, Field, model_validator

from eventlens import settings
from eventlens.errors import MachineError
from eventlens.limits import Limit, unknown_limits

FEM_TO_ISO: Final = MappingProxyType(
    {"1Dm": "M1", "1Cm": "M2", "1Bm": "M3", "1Am": "M4", "2m": "M5", "3m": "M6", "4m": "M7", "5m": "M8"}
)
"""FEM 9.511 names beside ISO 4301-1:1986 names of the same groups."""

GROUPS: Final = (*FEM_TO_ISO.values(), *FEM_TO_ISO, "H1", "H2", "H3", "H4", "H5")


def _known_group(group: str) -> str:
    folded = {name.lower(): name for name in GROUPS}
    if group.lower() not in folded:
        raise ValueError("a group: M1 to M8, 1Dm 1Cm 1Bm 1Am 2m 3m 4m 5m, or H1 to H5")
    return folded[group.lower()]


_TIME_OF_DAY: Final = re.compile(r"([01]?\d|2[0-3]):[0-5]\d")


def _usable_number(value: float) -> float:
    if not math.isfinite(value) or value < 0:
        raise ValueError("a number not below zero")
    return value


Group = Annotated[str, AfterValidator(_known_group)]
Amount = Annotated[float, AfterValidator(_usable_number)]


class Plate(settings.Settings):
    """What the machine is."""

    id: str = "machine"
    rated_load_kg: Annotated[float, Field(gt=0)] | None = None
    group: Group | None = None
    """Group of the hoist mechanism, from its plate."""
    trolley_group: Group | None = None
    bridge_group: Group | None = None
    two_windings: bool | None = None
    """Whether the hoist motor has a winding for each speed (pole-changing); None: taken so where the log carries a fast
    output. A hoist on a frequency converter has one winding."""


class Life(settings.Settings):
    """What is known of its use before the log."""

    used_before_h: Amount = 0.0
    """Full-load hours already used, as the log book says: with the recording factor of their time."""
    load_spectrum: Literal["L1", "L2", "L3", "L4"] | None = None
    """Assumed where no load is measured (ISO 4301-1:1986)."""
    load_classes: tuple[tuple[Amount, Amount], ...] = ()
    """Or classes entered by hand: (load over rated load, share of the running time), empty running included."""
    dead_load_kg: Amount = 0.0
    """Hook, block and lifting device, where the full form of the cubic mean is wanted (FEM 9.511)."""
    factor_set: Literal["FEM 9.755", "ISO 12482", "makers' manuals"] = "FEM 9.755"
    """Which recording factors."""
    abnormal_service: bool = False
    """Heat, dust, corrosion or the like: severe service by ASME B30.16."""
    recording: (
        Literal[
            "automatic",
            "counter_read",
            "counter_spectrum_estimated",
            "documented_production",
            "undocumented_production",
            "unknown",
        ]
        | None
    ) = None
    """How running time and loads are recorded (FEM 9.755, ISO 12482); None: automatic where the log carries the load,
    else as a counter with an estimated spectrum. counter_read: counters of time and loads that are read by hand."""


def _shift(text: str) -> str:
    begin, dash, end = (part.strip() for part in text.partition("-"))
    if not dash or not _TIME_OF_DAY.fullmatch(begin) or not (end == "24:00" or _TIME_OF_DAY.fullmatch(end)):
        raise ValueError("a shift as '06:00-14:00'")
    first, last = begin.zfill(5), end.zfill(5).replace("24:00", "00:00")
    if first == last:
        raise ValueError("a shift that ends at another time than it begins")
    return f"{first}-{last}"


def _each_begins_once(shifts: tuple[str, ...]) -> tuple[str, ...]:
    if len({shift.split("-")[0] for shift in shifts}) < len(shifts):
        raise ValueError("shifts that begin at different times")
    return shifts


DAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def _day(name: str) -> str:
    if name[:3].lower() not in DAYS:
        raise ValueError("days of the week as 'mon', 'tue', 'wed', 'thu', 'fri', 'sat', 'sun'")
    return name[:3].lower()


class Work(settings.Settings):
    """When people work with it."""

    shifts: Annotated[tuple[Annotated[str, AfterValidator(_shift)], ...], AfterValidator(_each_begins_once)] = ()
    """Begin and end of each shift by the local clock, as '06:00-14:00'; they may overlap. Empty: found from the log."""
    days: tuple[Annotated[str, AfterValidator(_day)], ...] = ()
    """Days of the week on which they begin, as 'mon'; on others whoever works begins after a rest. Empty: every day."""


class Parts(settings.Settings):
    """What wearing parts are rated for, from their data sheets, and what they had done before the log."""

    contactor_ac3: Amount | None = None
    """Operations of the contactor of one direction in pure AC-3 service: at the motor's current, or at
    contactor_rated_a where that is given."""
    contactor_ac4: Amount | None = None
    """The same in pure AC-4 service."""
    contactor_rated_a: Annotated[float, Field(gt=0)] | None = None
    """Current at which the two lives hold [A]; with motor_break_a they are carried over to the motor's."""
    motor_break_a: Annotated[float, Field(gt=0)] | None = None
    """Current that the contactor breaks when the running motor is switched off [A]: the motor's rated current."""
    contactor_before: Amount = 0.0
    """What the contactor of each direction had done before the log; the same holds for the relays."""
    brake_stops: Amount | None = None
    """Stops that lining and disc of the hoist brake are rated for."""
    brake_before: Amount = 0.0
    relay: Amount | None = None
    """Operations of an interface relay."""
    relay_before: Amount = 0.0
    rope_cycles: Amount | None = None
    """Bending cycles that the rope is rated for."""
    rope_bends_per_path: Annotated[float, Field(gt=0)] = 1.0
    """Bending cycles of its most bent piece in a full path up and down, by the reeving; 1: paths are rated."""
    rope_before: Amount = 0.0
    hook_path_m: Annotated[float, Field(gt=0)] | None = None
    """Full path of the hook [m]."""

    @model_validator(mode="after")
    def _currents_fit(self) -> Parts:
        if (self.contactor_rated_a is None) != (self.motor_break_a is None):
            raise ValueError("contactor_rated_a and motor_break_a, both or neither")
        if self.contactor_rated_a and self.motor_break_a and self.motor_break_a > self.contactor_rated_a:
            raise ValueError("motor_break_a not above contactor_rated_a")
        return self


class Machine(settings.Settings):
    """One machine. `limits` replaces defaults of the limits that stages and patterns declare, by name."""

    machine: Plate = Plate()
    limits: dict[str, Amount] = Field(default_factory=dict)
    life: Life = Life()
    parts: Parts = Parts()
    work: Work = Work()

    @property
    def id(self) -> str:
        return self.machine.id

    def group_of(self, motion: str) -> str | None:
        """The group of a motion's mechanism, or None where the machine file does not say."""
        return {
            "hoist": self.machine.group,
            "trolley": self.machine.trolley_group,
            "bridge": self.machine.bridge_group,
        }[motion]


def load_machine(path: str | Path, known: list[Limit]) -> Machine:
    """The machine file at path; MachineError for anything it may not hold. `known` are all declared limits."""
    machine = settings.load(path, Machine, MachineError)
    for name, hint in unknown_limits(machine.limits, known):
        line = settings.line_of(Path(path).read_text("utf-8-sig"), ["limits", name])
        raise MachineError("a known limit in [limits]", f"'{name}'", hint, file=path, line=line)
    return machine
