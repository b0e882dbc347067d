"""Limits: numbers that a user can change in the machine file, each with unit, default, source and what it trades.

A stage or a pattern declares its limits as fields of a frozen dataclass with `limit`; the machine file's `[limits]`
replaces the defaults by field name. Limits that several patterns share are declared once, here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from typing import Any, ClassVar, Protocol, TypeVar, cast

from eventlens.errors import nearest


@dataclass(frozen=True)
class Limit:
    """One limit as the catalogue shows it."""

    name: str
    default: float
    unit: str
    source: str
    trade: str


def limit(default: float, unit: str, source: str, trade: str) -> Any:
    """A dataclass field that is a limit: default in unit, where it comes from, what raising it trades."""
    return field(default=default, metadata={"unit": unit, "source": source, "trade": trade})


class HasLimits(Protocol):
    """A frozen dataclass whose fields were made with `limit`."""

    __dataclass_fields__: ClassVar[dict[str, Any]]


P = TypeVar("P", bound=HasLimits)


def limits_of(parameters: type[HasLimits]) -> list[Limit]:
    """The limits that a parameter class declares, in order."""
    return [
        Limit(f.name, float(cast(float, f.default)), f.metadata["unit"], f.metadata["source"], f.metadata["trade"])
        for f in fields(parameters)
    ]


def configure(parameters: type[P], changed: Mapping[str, float]) -> P:
    """The parameters with the machine's own values in place of the defaults; other names are passed over."""
    own = {f.name for f in fields(parameters)}
    return parameters(**{name: value for name, value in changed.items() if name in own})


def unknown_limits(changed: Iterable[str], known: Iterable[Limit]) -> list[tuple[str, str]]:
    """Names that no stage declares, each with a hint at the nearest known one."""
    names = {item.name for item in known}
    return [(name, nearest(name, names)) for name in changed if name not in names]


# Shared by several patterns and by the endings of runs.


def brake_release_s() -> Any:
    """Longest usual time from contactor to brake-release confirmation [s]."""
    return limit(
        0.5,
        "s",
        "common practice: 0.05 to 0.4 s is usual, warn above 0.5 s",
        "raising it lets a slow brake pass; lowering it reports healthy large brakes",
    )


def speed_change_delay_s() -> Any:
    """Set delay from slow to fast [s]."""
    return limit(
        0.40,
        "s",
        "common practice: anti-jog timers are set to 0.3 to 0.5 s, about 0.40 s",
        "it is the timer's setting: the limits for missing and short delays follow from it",
    )


def speed_change_missing_s() -> Any:
    """Delay up to which there is practically no slow step [s]."""
    return limit(
        0.10,
        "s",
        "common practice: contactor times alone make up this much",
        "raising it calls a short delay a missing one; lowering it the other way round",
    )


def reversal_pause_s() -> Any:
    """Pause after the end of a run within which a start the other way finds the motor turning [s]."""
    return limit(
        0.30,
        "s",
        "common practice: the middle of 0.1 to 0.5 s, in which a motion comes to rest",
        "raising it calls ordinary reversals plugging; lowering it misses drives that take longer to stop",
    )
