"""What the duty patterns share: what the machine file must say for them."""

from __future__ import annotations

from eventlens.duty.groups import motor_limits
from eventlens.machine import Machine


def missing_group(machine: Machine, motion: str, carried: frozenset[str]) -> str | None:
    """The machine-file key without which there is no limit for a motion's motor; None when there is one."""
    if motor_limits(machine, motion):
        return None
    key = "group" if motion == "hoist" else f"{motion}_group"
    return f"machine file: [machine] {key}"
