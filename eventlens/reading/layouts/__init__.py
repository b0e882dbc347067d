"""One module for each layout of a log. A module has

- `NAME`: the layout's name in the profile;
- `extract(stretch, profile) -> Extracted`: the events, names and rows set aside of a record.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from types import MappingProxyType
from typing import Protocol, cast

from eventlens.reading.extracted import Extracted, Stretches
from eventlens.reading.profile import Profile


class Layout(Protocol):
    """What a module of this folder offers."""

    NAME: str

    def extract(self, stretches: Stretches, profile: Profile) -> Extracted: ...


@cache
def layouts() -> MappingProxyType[str, Layout]:
    """All layouts by name; a module with a gap or a name used twice is an error at once."""
    found: dict[str, Layout] = {}
    for info in pkgutil.iter_modules(__path__):
        module = importlib.import_module(f"{__name__}.{info.name}")
        for part in ("NAME", "extract"):
            if not hasattr(module, part):
                raise TypeError(f"layout {info.name} has no '{part}'")
        if module.NAME in found:
            raise TypeError(f"two layouts are named '{module.NAME}'")
        found[module.NAME] = cast(Layout, module)
    return MappingProxyType(dict(sorted(found.items())))
