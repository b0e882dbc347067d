"""Arrow IPC, as a file (also called Feather) or as a stream: a column for each column, with its own type.

Time (timestamp) | Tag (dictionary of strings) | State (int8)

`row` is the number of the row in the file, from 1. A stream that breaks off gives the batches before the break.
"""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.formats._arrow import first_line_of, frame_of
from eventlens.reading.formats._table import whole_table
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "Arrow"
_FILE: Final = b"ARROW1\0\0"
_OLD: Final = b"FEA1"
_STREAM: Final = b"\xff\xff\xff\xff"
_LONGEST_SCHEMA: Final = 1 << 24
"""Bytes of a stream's first message (common practice, no source)."""


def sniff(path: Path, head: bytes) -> bool:
    """The mark of an Arrow file, or a first message with a plausible length."""
    if head.startswith((_FILE, _OLD)):
        return True
    length = int.from_bytes(head[4:8], "little")
    # the message is padded to eight bytes and begins with the offset of its root, inside itself
    root = int.from_bytes(head[8:12], "little")
    return head.startswith(_STREAM) and 8 <= length < _LONGEST_SCHEMA and length % 8 == 0 and 4 <= root < length


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The table in the file, types as they are. Rows without any value count as blank."""
    import pyarrow as pa

    notes: tuple[str, ...] = ()
    try:
        with path.open("rb") as file:
            head = file.read(len(_FILE))
        if head.startswith(_FILE):
            with pa.memory_map(str(path)) as source:
                table = pa.ipc.open_file(source).read_all()
                frame = frame_of(table)
        elif head.startswith(_OLD):
            frame = frame_of(_old_feather(path))
        else:
            table, notes = _stream(path)
            frame = frame_of(table)
    except (pa.ArrowException, pl.exceptions.PolarsError, OSError, ValueError, MemoryError) as fault:
        raise ReadingError("a whole Arrow file", first_line_of(fault), "export the dump again", file=path) from None
    return whole_table(path, NAME, frame, notes=notes)


def _stream(path: Path) -> tuple[Any, tuple[str, ...]]:
    import pyarrow as pa

    batches = []
    with pa.OSFile(str(path)) as source, pa.ipc.open_stream(source) as stream:
        try:
            batches.extend(stream)  # batch by batch: those before a break are kept
        except (pa.ArrowException, OSError) as fault:
            if not batches:
                raise
            got = first_line_of(fault)
            note = f"The stream breaks off after {len(batches)} batches ({got}): what came before was read."
            return pa.Table.from_batches(batches, stream.schema), (note,)
        return pa.Table.from_batches(batches, stream.schema), ()


def _old_feather(path: Path) -> Any:
    """The first version of Feather, which newer writers do not write any more."""
    from pyarrow import feather

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return feather.read_table(str(path))
