"""Parquet: a column for each column, with its own type. The row number, from 1, stands in for the line.

Time (timestamp) | Tag (string) | State (int)
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.formats import _arrow
from eventlens.reading.formats._arrow import first_line_of, frame_of, give_back
from eventlens.reading.formats._stack import MOST_COLUMNS
from eventlens.reading.formats._table import whole_table
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "Parquet"
MAGIC = b"PAR1"
LONG: Final = 1 << 26
"""Tables of so many cells are read at once, of three columns some twenty million rows: what files cost in time is not
worth it there (measured: tests.benchmarks.beside)."""
BUFFER: Final = 1 << 20
"""So many bytes of a column are read from the file at once: a column of a part of the table may be as long as the file
(common practice)."""
BYTES_OF_A_PLACE: Final = 2
"""Room for the places in a list of up to 65,536 texts; a text takes four bytes more than its letters."""


def sniff(path: Path, head: bytes) -> bool:
    """The four bytes that every Parquet file begins with."""
    return head.startswith(MAGIC)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The table in the file, types as they are. Rows without any value count as blank."""
    import pyarrow as pa
    from pyarrow import parquet

    try:  # pyarrow, because a damaged file makes the reader of polars panic
        with parquet.ParquetFile(path, buffer_size=BUFFER) as file:
            few, is_long, rows = _of_few_texts(file), _is_long(file), file.metadata.num_rows
        laid = _in_pieces(path, few) if is_long else None
        frame = laid
        if frame is None:
            frame = frame_of(parquet.read_table(path, page_checksum_verification=True, read_dictionary=few))
        if frame.width and frame.height != rows:  # a damaged page may be passed over without a word
            raise ValueError(f"{frame.height} of {rows} rows")
    except (pa.ArrowException, pl.exceptions.PolarsError, OSError, ValueError, MemoryError) as fault:
        raise ReadingError("a whole Parquet file", first_line_of(fault), "export the dump again", file=path) from None
    table = whole_table(path, NAME, frame, laid_down=laid is not None)
    give_back()
    return table


def _is_long(file: Any) -> bool:
    """Whether the table is read piece by piece."""
    width = file.metadata.num_columns
    return bool(width <= MOST_COLUMNS and file.metadata.num_rows * width > LONG)


def _in_pieces(path: Path, few: list[str]) -> pl.DataFrame | None:
    """The table, laid down while it is read: memory holds one piece. None where the disk has no room for it."""
    from pyarrow import parquet

    stated = {"read_dictionary": few, "buffer_size": BUFFER, "page_checksum_verification": True}
    with parquet.ParquetFile(path, **stated) as file:
        rows = max(_arrow.PIECE // file.metadata.num_columns, 1)
        return _arrow.in_pieces(file.iter_batches(rows), file.schema_arrow)


def _of_few_texts(file: Any) -> list[str]:
    """The columns of texts that take so little room that they must be places in a list of few texts, as names do.

    They are read as such places: quicker than text by text, and in one piece.
    """
    import pyarrow as pa

    leaves = {file.schema.column(at).path: at for at in range(file.metadata.num_columns)}
    fields = [
        field for field in file.schema_arrow if pa.types.is_string(field.type) or pa.types.is_large_string(field.type)
    ]
    room = {field.name: 0 for field in fields if field.name in leaves}
    for number in range(file.num_row_groups if room else 0):
        # of a damaged column pyarrow says nothing: it ends the process; to read of it first is refused
        next(file.iter_batches(1, row_groups=[number], columns=list(room)), None)
        group = file.metadata.row_group(number)
        for name in room:
            room[name] += group.column(leaves[name]).total_uncompressed_size
    return [name for name, size in room.items() if size <= BYTES_OF_A_PLACE * file.metadata.num_rows]
