"""What can be followed: one module for each kind of source; `_base` says what a source is.

A module has `SCHEMES`, the beginnings of the addresses that it understands (mqtt for mqtt://...), and `opened(address,
following) -> Source`. An address without one is the path of a file.
"""

from __future__ import annotations

import importlib
import pkgutil

from eventlens.errors import EventlensError, nearest
from eventlens.live.sources._base import Batch, Following, Position, Source

__all__ = ["Batch", "Following", "Position", "Source", "open_source"]


def open_source(address: str, following: Following | None = None) -> Source:
    """The source of an address; EventlensError where nothing understands it. following: how; None: as is usual."""
    scheme, mark, _ = address.partition("://")
    known = {}
    for info in pkgutil.iter_modules(__path__):
        if not info.name.startswith("_"):
            module = importlib.import_module(f"{__name__}.{info.name}")
            known.update(dict.fromkeys(module.SCHEMES, module))
    if mark and scheme not in known:
        raise EventlensError("something that can be followed", f"'{scheme}://'", nearest(scheme, known))
    found: Source = known[scheme if mark else "file"].opened(address, following or Following())
    return found
