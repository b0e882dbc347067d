"""Parquet: a column for each column, with its own type. The row number, from 1, stands in for the line.

Time (timestamp) | Tag (string) | State (int)
"""

from __future__ import annotations

from pathlib import Path

import polars as pl

from eventlens.errors import ReadingError
from eventlens.reading.formats._arrow import first_line_of, frame_of
from eventlens.reading.formats._table import whole_table
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "Parquet"
MAGIC = b"PAR1"


def sniff(path: Path, head: bytes) -> bool:
    """The four bytes that every Parquet file begins with."""
    return head.startswith(MAGIC)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The table in the file, types as they are. Rows without any value count as blank."""
    import pyarrow as pa
    from pyarrow import parquet

    try:  # pyarrow, because a damaged file makes the reader of polars panic
        frame = frame_of(parquet.read_table(path, page_checksum_verification=True))
    except (pa.ArrowException, pl.exceptions.PolarsError, OSError, ValueError, MemoryError) as fault:
        raise ReadingError("a whole Parquet file", first_line_of(fault), "export the dump again", file=path) from None
    return whole_table(path, NAME, frame)
