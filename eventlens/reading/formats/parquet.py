"""Parquet: a column for each column, with its own type. The row number, from 1, stands in for the line.

Time (timestamp) | Tag (string) | State (int)
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import polars as pl

from eventlens import schema
from eventlens.errors import ReadingError
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "Parquet"
MAGIC = b"PAR1"


def sniff(path: Path, head: bytes) -> bool:
    """The four bytes that every Parquet file begins with."""
    return head.startswith(MAGIC)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The table in the file, types as they are. Rows without any value count as blank."""
    try:
        frame = pl.read_parquet(path, glob=False)
    except (pl.exceptions.PolarsError, OSError) as fault:
        got = str(fault).splitlines()[0][:120]
        raise ReadingError("a whole Parquet file", got, "export the dump again", file=path) from None
    height = frame.height
    lines = pl.int_range(1, height + 1, dtype=pl.UInt32, eager=True)
    empty = frame.select(empty=pl.all_horizontal(pl.all().is_null()))["empty"] if frame.width else pl.Series([])
    blank = int(empty.sum()) if frame.width else 0
    if blank:
        frame, lines = frame.filter(~empty), lines.filter(~empty)
    with path.open("rb") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    return RawTable(path, sha256, NAME, frame, lines, schema.REJECTED.empty(), blank, 1, height)
