"""Whether memory that is free again serves the next table, or goes back to the system first.

Polars gives that of a short table back after half a second and that of a long one at once, keeps what one thread let go
from all others, and soon asks for it again, page by page: of a review of ten million records a fifth of the time
(measured: tests.benchmarks.beside). A command keeps it for some seconds, for whichever thread asks next. Where Polars
has another allocator, or was loaded before, this changes nothing.
"""

from __future__ import annotations

import os
from collections.abc import MutableMapping, Sequence
from pathlib import Path
from typing import Final

VARIABLE: Final = "_RJEM_MALLOC_CONF"
"""Where the allocator of Polars looks for settings when it is loaded; Polars puts its own before them."""
KEPT: Final = "narenas:1,oversize_threshold:0,dirty_decay_ms:2500,muzzy_decay_ms:2500"
"""One store of memory for all threads, long tables in it too (a third fewer pages are asked for, at a peak no higher:
measured on two cores), for 2.5 s [ms]: longer won nothing more and kept more memory (tests.benchmarks.beside)."""
LONG: Final = 1 << 29
"""Of files with more bytes together nothing is kept: 512 MiB. Of a hundred million records it took 1.5 GB more and won
no time (measured: tests.benchmarks.beside)."""


def keep_freed_memory(arguments: Sequence[str], environment: MutableMapping[str, str] = os.environ) -> None:
    """For this process and those it starts, before Polars is loaded; a setting of the user stays as it is.

    arguments: of the command; what of them is a file is looked at for its size.
    """
    if sum(_size(argument) for argument in arguments) <= LONG:
        environment.setdefault(VARIABLE, KEPT)


def _size(argument: str) -> int:
    """The bytes of a file; 0 for anything else."""
    path = Path(argument)
    try:
        return path.stat().st_size if path.is_file() else 0
    except (OSError, ValueError):  # longer than a name may be, or with a zero byte
        return 0
