"""Arrow tables -> frames, checked."""

from __future__ import annotations

from typing import Any

import polars as pl

from eventlens.reading.formats._table import unique_names


def frame_of(table: Any) -> pl.DataFrame:
    """The frame of a pyarrow table, once its offsets and texts are checked: damaged ones lead outside their memory.

    Raises pyarrow.ArrowException, a PolarsError, or ValueError for a type that cannot be held.
    """
    table.validate(full=True)
    names = table.column_names
    if not names:
        return pl.DataFrame()
    try:
        found = pl.from_arrow(table.rename_columns([str(at) for at in range(len(names))]))
    except KeyError as fault:  # a type that the library knows by its number only
        raise ValueError(f"a column of an unknown type, number {fault}") from None
    assert isinstance(found, pl.DataFrame)
    return found.rename(dict(zip(found.columns, unique_names(names), strict=True)))


def first_line_of(fault: BaseException) -> str:
    """What a library says, as part of one sentence."""
    return (str(fault).splitlines() or ["a damaged one"])[0][:120]


def give_back() -> None:
    """Gives back the memory that pyarrow keeps for its next table."""
    import pyarrow as pa

    pa.default_memory_pool().release_unused()
