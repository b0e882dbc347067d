"""The page's own words: for severities, endings, reasons and signals. Plain English, no formatting."""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType
from typing import Final

SEVERITY: Final = MappingProxyType(
    {"out_of_service": "take out of use", "repair": "repair", "watch": "watch", "note": "note"}
)
SEVERITY_SIGN: Final = MappingProxyType({"out_of_service": "■", "repair": "▲", "watch": "◆", "note": "○"})
"""A sign for each, so that colour is never the only one."""

ENDING: Final = MappingProxyType(
    {
        "let_go": "operator let go",
        "reversed": "operator reversed",
        "limit": "limit reached",
        "overload": "overload device",
        "emergency_stop": "emergency stop",
        "motor_hot": "motor hot",
        "supply": "supply lost",
        "dropped_out": "dropped out, unexplained",
        "unknown": "not known (log ends, hole, or not logged)",
    }
)
ORDINARY_ENDINGS: Final = frozenset({"let_go", "reversed", "limit", "unknown"})

WHY: Final = MappingProxyType(
    {
        "missing_signal": "the log does not carry what it needs",
        "missing_setting": "the machine file does not say what it needs",
        "not_resolvable": "the log step is too coarse",
        "too_little_log": "the log is too short",
    }
)
REMEDY: Final = MappingProxyType(
    {
        "missing_signal": "log",
        "missing_setting": "fill in",
        "not_resolvable": "record with",
        "too_little_log": "bring at least",
    }
)

_KIND: Final = MappingProxyType(
    {"command": "command", "contactor": "contactor", "limit": "limit", "slowdown": "slow-down limit"}
)
_WHOLE: Final = MappingProxyType(
    {
        "overload.warning": "overload warning",
        "overload.trip": "overload trip",
        "overload.fault": "overload device fault",
        "rope.slack": "slack rope",
        "stop.emergency": "emergency stop",
        "supply.control": "control supply",
        "supply.phase_fault": "phase fault",
        "fault.reset": "reset pressed",
        "load.kg": "load [kg]",
        "load.percent": "load [% of rated]",
        "fast.contactor": "fast output",
        "brake.released": "brake released",
        "motor.hot": "motor hot",
        "motor.current_a": "motor current [A]",
        "motor.temperature_c": "motor temperature [°C]",
        "speed_m_per_min": "speed [m/min]",
        "height_m": "hook height [m]",
        "position_m": "position [m]",
    }
)

GROUPS: Final = MappingProxyType(
    {"hoist": "Hoist", "trolley": "Trolley", "bridge": "Bridge", "": "Whole machine", "unstated": "Nothing stated yet"}
)

ALARMS: Final = ("overload.warning", "overload.trip", "overload.fault", "rope.slack", "stop.emergency")
"""Signals that need a person when on; so do a hot motor and a phase fault. Limits are part of ordinary work."""


def motion_of(signal: str) -> str | None:
    """The motion a signal belongs to; None for the machine as a whole."""
    head = signal.partition(".")[0]
    return head if head and head in GROUPS else None


def lane_name(signal: str, motion: str | None) -> str:
    """A signal's name in words, without its motion."""
    rest = signal.removeprefix(f"{motion}.") if motion else signal
    if rest in _WHOLE:
        return _WHOLE[rest]
    direction, _, kind = rest.partition(".")
    return f"{direction} {_KIND.get(kind, kind)}"


def needs_person(signal: str) -> str | None:
    """'on' or 'off' where that state of the signal needs a person; None for ordinary signals."""
    if signal == "supply.control":
        return "off"
    return "on" if signal in ALARMS or signal.endswith((".motor.hot", ".phase_fault")) else None


def number(value: float | None) -> str:
    """A number for people: whole numbers in full, others to three decimals at most; a dash where there is none."""
    if value is None:
        return "–"
    if float(value).is_integer():
        return f"{value:,.0f}"
    return f"{value:,.1f}" if abs(value) >= 100 else f"{value:.3f}".rstrip("0").rstrip(".")


def length(seconds: float) -> str:
    """A length of time in the unit that suits it."""
    for least, size, unit in ((172_800, 86_400, "d"), (7_200, 3_600, "h"), (120, 60, "min")):
        if seconds >= least:
            return f"{number(round(seconds / size, 1))} {unit}"
    return f"{number(round(seconds))} s" if seconds >= 10 else f"{seconds:.6f}".rstrip("0").rstrip(".") + " s"


def counted(count: int, one: str, many: str | None = None) -> str:
    """A count with its noun."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def lines(rows: Sequence[int], most: int = 12) -> str:
    """Line numbers; where they are many, the first of them and how many there are."""
    shown = ", ".join(str(row) for row in rows[:most])
    return shown if len(rows) <= most else f"{shown} … ({len(rows):,} lines)"


def asked(severity: str | None) -> str:
    """What a severity asks for, with its sign; nothing in particular where there is none."""
    return f"{SEVERITY_SIGN[severity]} {SEVERITY[severity]}" if severity else "nothing now"
