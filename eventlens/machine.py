"""The machine file: rating plate, limits of its own, earlier use. Every key has a default; an unknown key is an error.

Groups follow FEM 9.511 (1Dm to 5m), ISO 4301-1:1986 (M1 to M8) and ASME HST (H1 to H5).
"""

from __future__ import annotations

import math
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Final, Literal

from pydantic import AfterValidator, Field

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


class Life(settings.Settings):
    """What is known of its use before the log."""

    used_before_h: Amount = 0.0
    """Full-load hours already used."""
    load_spectrum: Literal["L1", "L2", "L3", "L4"] | None = None
    """Assumed where no load is measured (ISO 4301-1:1986)."""
    recording: (
        Literal[
            "automatic",
            "counter_spectrum_estimated",
            "documented_production",
            "undocumented_production",
            "unknown",
        ]
        | None
    ) = None
    """How the earlier use was recorded (FEM 9.755, ISO 12482)."""


class Machine(settings.Settings):
    """One machine. `limits` replaces defaults of the limits that stages and patterns declare, by name."""

    machine: Plate = Plate()
    limits: dict[str, Amount] = Field(default_factory=dict)
    life: Life = Life()

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
