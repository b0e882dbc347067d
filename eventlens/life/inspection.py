"""When to inspect: intervals by class of service (ASME B30.16), and what a time without work asks for.

The classes also depend on surroundings that no log knows (heat, dust, corrosion): the machine file says so. The
intervals are the standard's; local codes and the maker's instructions come first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

MONTH_DAYS: Final = 30.5
UNIFORM_LOAD: Final = 0.65
"""Share of the rated load up to which uniform loads are normal service (ASME B30.16, found in one place)."""
NORMAL_ON_TIME: Final = 0.15
"""Share of the time up to which such loads are normal service (ASME B30.16, found in one place; 25 % for powered hoists
is remembered)."""


@dataclass(frozen=True)
class Service:
    """A class of service and its intervals."""

    name: str
    frequent: str
    """Interval of the frequent inspection, by look and by function."""
    periodic: str
    """Interval of the periodic inspection, with a record."""
    periodic_days: float
    source: str = "ASME B30.16"
    confidence: str = "confirmed"
    """How sure the intervals are, and what decided for this class (duty.groups.CONFIDENCES)."""
    decided_by: str = ""


SERVICES: Final = {
    "normal": Service("normal", "monthly", "yearly", 365.0),
    "heavy": Service("heavy", "weekly to monthly", "half-yearly", 182.5),
    "severe": Service("severe", "daily to weekly", "quarterly", 91.25),
}


@dataclass(frozen=True)
class Interval:
    """How often something is inspected whatever the service."""

    what: str
    how_often: str
    source: str
    confidence: str


OSHA: Final = (
    Interval("operating mechanisms, hooks and chains", "daily by look", "OSHA 29 CFR 1910.179(j)(2)", "confirmed"),
    Interval("hooks and chains", "monthly with a record", "OSHA 29 CFR 1910.179(j)(2)", "confirmed"),
    Interval("running ropes", "monthly with a record", "OSHA 29 CFR 1910.179(m)(1)", "confirmed"),
    Interval(
        "upper limit switch", "without load at the start of each shift", "OSHA 29 CFR 1910.179(n)(4)(i)", "confirmed"
    ),
    Interval("frequent inspection", "daily to monthly", "OSHA 29 CFR 1910.179(j)(1)(ii)(a)", "confirmed"),
    Interval("periodic inspection", "every 1 to 12 months", "OSHA 29 CFR 1910.179(j)(1)(ii)(b)", "confirmed"),
    Interval("standby cranes", "at least every 6 months", "OSHA 29 CFR 1910.179(j)(4)", "from one place"),
)
"""For overhead and gantry cranes in the United States; hoists of other cranes there fall under ASME B30.16."""


@dataclass(frozen=True)
class IdleRule:
    """What must happen before a hoist that stood still is used again."""

    days: float
    needs: str
    source: str
    confidence: str
    after: str
    """The time in words."""


IDLE_RULES: Final = (
    IdleRule(
        12 * MONTH_DAYS,
        "the periodic inspection before use",
        "ASME B30.16",
        "confirmed",
        "idle for over 12 months",
    ),
    IdleRule(
        6 * MONTH_DAYS,
        "a complete inspection before use",
        "OSHA 29 CFR 1910.179(j)(4)",
        "from memory",
        "idle for over 6 months",
    ),
    IdleRule(
        MONTH_DAYS,
        "the frequent inspection before use",
        "ASME B30.16, OSHA 29 CFR 1910.179(j)(4)",
        "confirmed",
        "idle for over a month",
    ),
)
"""The longest first."""


def service_of(on_time: float, k: float | None, *, abnormal: bool = False) -> Service:
    """The class of service that a use asks for (ASME B30.16; the borders were found in one place).

    on_time: share of the working time in which the hoist runs, 0 to 1; k: cubic mean of the load ratio, None where no
    load is known: only the on-time decides then; abnormal: surroundings that the machine file calls so.
    """
    if abnormal:
        return replace(SERVICES["severe"], decided_by="the surroundings that the machine file states")
    light = k is None or k <= UNIFORM_LOAD
    by = f"running {100 * on_time:.0f} % of its working hours (normal up to {100 * NORMAL_ON_TIME:.0f} %)"
    by += "; no load is known, which could make it heavy" if k is None else f" and k {k:.2f} (normal up to 0.65)"
    found = SERVICES["normal" if light and on_time <= NORMAL_ON_TIME else "heavy"]
    return replace(found, decided_by=by, confidence="from one place")  # the borders between the classes are


def after_idle(days: float) -> IdleRule | None:
    """What a time without work [days], not below 0, asks for before the next use; None for a month or less.

    ASME B30.16 and OSHA 29 CFR 1910.179(j)(4); the strictest rule that applies.
    """
    return next((rule for rule in IDLE_RULES if days > rule.days), None)
