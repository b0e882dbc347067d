"""Long tables lie in temporary files that are mapped: memory that the system takes back whenever it needs it.

A table that is laid down is the same table to whoever reads it, row for row and in one piece; its pages come from the
file as they are looked at. A file loses its name as soon as it is mapped and is gone with the last table that needs it,
whatever happens to the program (Windows keeps it until temporary files are cleaned up). Files lie where `tempfile` puts
them (TMPDIR); in a folder that is memory itself nothing is won.
"""

from __future__ import annotations

import mmap
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock
from typing import Any, Final
from weakref import WeakSet

import polars as pl
import pyarrow as pa

MANY: Final = 1 << 25
"""Of a log with so many records the long tables lie in files. Those of a shorter one come to some two gigabytes, which
any computer has, and files make its review a third slower (measured: tests.benchmarks.beside)."""
LONG: Final = 1 << 27
"""Tables of fewer bytes stay in memory: 128 MiB, some million rows (common practice: a small part of any computer)."""

_maps: WeakSet[mmap.mmap] = WeakSet()
_lock: Final = Lock()


def is_long(records: int) -> bool:
    """Whether a log of so many records needs memory so much that time is given for it."""
    return records >= MANY


def laid_down(frame: pl.DataFrame, records: int, parts: int = 1) -> pl.DataFrame:
    """The same table from a file, if it is long; the table itself where the disk has no room for it. records: of the
    log that it belongs to; parts: tables of about this length of which all are kept, which together are long."""
    if not is_long(records) or frame.estimated_size() * parts < LONG:
        return frame
    try:
        with TemporaryDirectory(prefix="eventlens-", ignore_cleanup_errors=True) as folder:
            path = Path(folder) / "table"
            frame.write_ipc(path, record_batch_size=max(frame.height, 1), compat_level=pl.CompatLevel.newest())
            found: Any = pl.from_arrow(pa.ipc.open_file(pa.py_buffer(mapped(path))).read_all(), rechunk=False)
            return found  # type: ignore[no-any-return]
    except (OSError, pl.exceptions.PolarsError):
        return frame


def mapped(path: Path) -> mmap.mmap:
    """The bytes of a file, which need its name no longer."""
    with path.open("rb") as file:
        data = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
    with _lock:
        _maps.add(data)
    return data


def give_back() -> None:
    """Gives back the memory in which tables that were laid down have been looked at; they are read again if need be."""
    if hasattr(mmap, "MADV_DONTNEED"):
        with _lock:
            for data in _maps:
                data.madvise(mmap.MADV_DONTNEED)
