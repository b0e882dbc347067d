"""Reads the event log of an electric hoist's controller and says what the machine did, what is wrong and how often.

Everything public is here. Names are loaded when first used, so that importing the package costs next to nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from eventlens import trends
    from eventlens.archive import Archive
    from eventlens.comparison import Comparison, compare, compare_reviews
    from eventlens.errors import ArchiveError, EventlensError, KnowledgeError, MachineError, ProfileError, ReadingError
    from eventlens.machine import Machine
    from eventlens.reading import Inspection, inspect, read, read_table
    from eventlens.reading.log import Log
    from eventlens.reading.profile import Profile
    from eventlens.result import Review
    from eventlens.trends import Trends
    from eventlens.wiring import review, review_log

_HOME = {
    "Archive": "archive",
    "ArchiveError": "errors",
    "Comparison": "comparison",
    "EventlensError": "errors",
    "Inspection": "reading",
    "KnowledgeError": "errors",
    "Log": "reading.log",
    "Machine": "machine",
    "MachineError": "errors",
    "Profile": "reading.profile",
    "ProfileError": "errors",
    "ReadingError": "errors",
    "Review": "result",
    "Trends": "trends",
    "compare": "comparison",
    "compare_reviews": "comparison",
    "inspect": "reading",
    "read": "reading",
    "read_table": "reading",
    "review": "wiring",
    "review_log": "wiring",
}
_PARTS = ("trends",)
"""Modules that are public as they are."""

__all__ = [
    "Archive",
    "ArchiveError",
    "Comparison",
    "EventlensError",
    "Inspection",
    "KnowledgeError",
    "Log",
    "Machine",
    "MachineError",
    "Profile",
    "ProfileError",
    "ReadingError",
    "Review",
    "Trends",
    "compare",
    "compare_reviews",
    "inspect",
    "read",
    "read_table",
    "review",
    "review_log",
    "trends",
]


def __getattr__(name: str) -> Any:
    if name in _HOME:
        return getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
    if name in _PARTS:
        return importlib.import_module(f"{__name__}.{name}")
    raise AttributeError(f"module '{__name__}' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
