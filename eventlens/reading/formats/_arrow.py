"""Arrow tables -> frames, checked."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import polars as pl

from eventlens.reading.formats._stack import NoRoomError, Stack
from eventlens.reading.formats._table import plain_types, unique_names

PIECE: Final = 1 << 22
"""Of a long table so many cells are laid down at once: of three columns some million rows (common practice)."""


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


def at_once(batches: Iterable[Any], schema: Any) -> pl.DataFrame:
    """The frame of all record batches together; raises what frame_of does."""
    import pyarrow as pa

    return frame_of(pa.Table.from_batches(batches, schema))


def in_pieces(batches: Iterable[Any], schema: Any) -> pl.DataFrame | None:
    """The frame of record batches, laid down one after the other: memory holds a batch, or the part of it that is
    being laid down. Columns that are listed texts are not coded yet. None where there is no batch, or the disk has no
    room. Raises what frame_of does.
    """
    import pyarrow as pa

    rows = max(PIECE // max(len(schema), 1), 1)
    with Stack() as stack:
        try:
            for batch in batches:
                for begin in range(0, batch.num_rows, rows):
                    part = frame_of(pa.Table.from_batches([batch.slice(begin, rows)]))
                    stack.add(plain_types(part, code=False))
            found = stack.whole()
        except NoRoomError:
            return None
    return found if found.width else None


def first_line_of(fault: BaseException) -> str:
    """What a library says, as part of one sentence."""
    return (str(fault).splitlines() or ["a damaged one"])[0][:120]


def give_back() -> None:
    """Gives back the memory that pyarrow keeps for its next table."""
    import pyarrow as pa

    pa.default_memory_pool().release_unused()
