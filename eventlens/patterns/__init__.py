"""Runs and states -> occurrences. One file for each pattern; every module here that is not underscored is one."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from eventlens.limits import Limit
from eventlens.patterns._base import EXPOSURES, Context, Pattern, occurrences

__all__ = ["EXPOSURES", "Context", "Pattern", "catalogue", "limits", "occurrences"]


@cache
def catalogue() -> dict[str, Pattern]:
    """Every pattern by name, in alphabetical order; a module without its PATTERN is an error."""
    found: dict[str, Pattern] = {}
    for module in sorted(info.name for info in pkgutil.iter_modules(__path__)):
        if module.startswith("_"):
            continue
        pattern = getattr(importlib.import_module(f"{__name__}.{module}"), "PATTERN", None)
        if not isinstance(pattern, Pattern):
            raise TypeError(f"eventlens/patterns/{module}.py has no PATTERN; define one or underscore the file")
        if pattern.name != module:
            raise TypeError(
                f"eventlens/patterns/{module}.py calls its pattern '{pattern.name}'; file and name must agree"
            )
        found[module] = pattern
    return found


def limits() -> list[Limit]:
    """The limits of all patterns. Two patterns may share a limit only if they declare it alike."""
    known: dict[str, Limit] = {}
    for pattern in catalogue().values():
        for item in pattern.limits:
            if known.setdefault(item.name, item) != item:
                raise TypeError(f"limit {item.name} is declared twice, differently; move it to eventlens/limits.py")
    return list(known.values())
