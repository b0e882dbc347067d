"""Parquet: a column for each column, with its own type. The row number, from 1, stands in for the line.

Time (timestamp) | Tag (string) | State (int)
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.formats._arrow import first_line_of, frame_of
from eventlens.reading.formats._table import whole_table
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "Parquet"
MAGIC = b"PAR1"
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
        with parquet.ParquetFile(path) as file:
            few = _of_few_texts(file)
        frame = frame_of(parquet.read_table(path, page_checksum_verification=True, read_dictionary=few))
    except (pa.ArrowException, pl.exceptions.PolarsError, OSError, ValueError, MemoryError) as fault:
        raise ReadingError("a whole Parquet file", first_line_of(fault), "export the dump again", file=path) from None
    return whole_table(path, NAME, frame)


def _of_few_texts(file: Any) -> list[str]:
    """The columns of texts that take so little room that they must be places in a list of few texts, as names do.

    They are read as such places: quicker than text by text, and in one piece.
    """
    import pyarrow as pa

    metadata, schema = file.metadata, file.schema_arrow
    texts = {field.name for field in schema if pa.types.is_string(field.type) or pa.types.is_large_string(field.type)}
    room: dict[str, int] = {}
    for group in map(metadata.row_group, range(metadata.num_row_groups)):
        for column in map(group.column, range(metadata.num_columns)):
            room[column.path_in_schema] = room.get(column.path_in_schema, 0) + column.total_uncompressed_size
    return [name for name, size in room.items() if name in texts and size <= BYTES_OF_A_PLACE * metadata.num_rows]
