"""Work that the processes of one test run share: each piece is done once, by whoever comes to it first."""

from __future__ import annotations

import fcntl
import pickle
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TypeVar

R = TypeVar("R")


def shared(folder: Path, pieces: Mapping[str, Callable[[], R]]) -> list[R]:
    """The results of all pieces, in their order; names are names of files in the folder of the run.

    Pieces that another process is at are passed over and waited for at the end. One that ended without a result leaves
    its piece to the next.
    """
    found: dict[str, R] = {}
    for wait in (fcntl.LOCK_NB, 0):
        for name, do in pieces.items():
            if name in found:
                continue
            with (folder / f"{name}.lock").open("w") as lock:
                try:
                    fcntl.flock(lock, fcntl.LOCK_EX | wait)
                except BlockingIOError:
                    continue
                found[name] = _kept(folder / name, do)
    return [found[name] for name in pieces]


def _kept(place: Path, do: Callable[[], R]) -> R:
    """The result that is there, or is made now."""
    if not place.exists():
        part = place.with_name(f"{place.name}.part")
        part.write_bytes(pickle.dumps(do()))
        part.rename(place)
    found: R = pickle.loads(place.read_bytes())
    return found
