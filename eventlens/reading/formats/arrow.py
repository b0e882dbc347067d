"""Arrow IPC, as a file (also called Feather) or as a stream: a column for each column, with its own type.

Time (timestamp) | Tag (dictionary of strings) | State (int8)

`row` is the number of the row in the file, from 1. A stream that breaks off gives the batches before the break.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, Final, TypeVar

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.formats._arrow import at_once, first_line_of, frame_of, give_back, in_pieces
from eventlens.reading.formats._table import whole_table
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "Arrow"
_FILE: Final = b"ARROW1\0\0"
_OLD: Final = b"FEA1"
_STREAM: Final = b"\xff\xff\xff\xff"
LONG: Final = 1 << 28
"""Files of fewer bytes are read at once: 256 MiB, some ten million rows of instant, name and number (as delimited
text is)."""
_LONGEST_SCHEMA: Final = 1 << 24
"""Bytes of a stream's first message (common practice, no source)."""

T = TypeVar("T")


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

    try:
        with path.open("rb") as file:
            head = file.read(len(_FILE))
        laid: pl.DataFrame | None = None
        notes: tuple[str, ...] = ()
        if head.startswith(_OLD):
            frame = frame_of(_old_feather(path))
        else:
            batches_of = _of_file if head.startswith(_FILE) else _of_stream
            if path.stat().st_size > LONG:
                laid, notes = batches_of(path, in_pieces)
            frame, notes = batches_of(path, at_once) if laid is None else (laid, notes)
    except (pa.ArrowException, pl.exceptions.PolarsError, OSError, ValueError, MemoryError) as fault:
        raise ReadingError("a whole Arrow file", first_line_of(fault), "export the dump again", file=path) from None
    table = whole_table(path, NAME, frame, notes=notes, laid_down=laid is not None)
    give_back()
    return table


def _of_file(path: Path, make: Callable[[Iterable[Any], Any], T]) -> tuple[T, tuple[str, ...]]:
    """What is made of the batches of a file and its schema."""
    import pyarrow as pa

    with pa.memory_map(str(path)) as source, pa.ipc.open_file(source) as file:
        return make(map(file.get_batch, range(file.num_record_batches)), file.schema), ()


def _of_stream(path: Path, make: Callable[[Iterable[Any], Any], T]) -> tuple[T, tuple[str, ...]]:
    """What is made of the batches of a stream and its schema, and a note where it breaks off."""
    import pyarrow as pa

    notes: list[str] = []

    def batches() -> Iterator[Any]:
        count = 0
        try:
            for batch in stream:  # those before a break are kept
                yield batch
                count += 1
        except (pa.ArrowException, OSError) as fault:
            if not count:
                raise
            got = first_line_of(fault)
            notes.append(f"The stream breaks off after {count} batches ({got}): what came before was read.")

    with pa.OSFile(str(path)) as source, pa.ipc.open_stream(source) as stream:
        return make(batches(), stream.schema), tuple(notes)


def _old_feather(path: Path) -> Any:
    """The first version of Feather, which newer writers do not write any more."""
    from pyarrow import feather

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return feather.read_table(str(path))
