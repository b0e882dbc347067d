"""What the duty patterns share: what the machine file must say for them."""

from __future__ import annotations

from eventlens.duty.groups import GroupLimits, motor_limits
from eventlens.machine import Machine


def missing_group(machine: Machine, motion: str, carried: frozenset[str]) -> str | None:
    """The machine-file key without which there is no limit for a motion's motor; None when there is one."""
    if motor_limits(machine, motion):
        return None
    key = "group" if motion == "hoist" else f"{motion}_group"
    return f"machine file: [machine] {key}"


def sourced(limits: GroupLimits) -> str:
    """Where the limits come from and, where they are not confirmed, how sure they are."""
    sure = limits.confidence in ("confirmed", "machine file")
    return limits.source if sure else f"{limits.source}, {limits.confidence}: check it"
