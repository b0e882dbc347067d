"""Columns of few different texts, such as names and states, coded: each cell is a place in a list of texts (an Enum).

A cell takes one to four bytes in place of 16, and what a text means is found once for each text, not once for each
cell. Formats code a column where that pays; in a record names, values and samples stay so, all else is text again.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import Final

import numpy as np
import polars as pl

MOST: Final = 65_535
"""Texts of a coded column: what two bytes tell apart."""
REPEATED: Final = 4
"""Times that each text of a sample must come, on average, for its column to be coded (common practice, no source)."""


def is_coded(column: pl.Series) -> bool:
    """Whether the cells are places in a list of texts."""
    return isinstance(column.dtype, pl.Enum)


def repeat(cells: Sequence[object]) -> bool:
    """Whether the cells of a sample hold few different texts."""
    return len(set(cells)) * REPEATED <= len(cells)


def while_parsing() -> pl.Categorical:
    """The type of columns whose texts a parser is to list while it reads; it refuses the text if there are too many.

    The list is the parser's own and goes with its columns: nothing stays behind in the process.
    """
    return pl.Categorical(pl.Categories.random(physical=pl.UInt16))


def coded(column: pl.Series) -> pl.Series:
    """A column that a parser has listed, in one piece, its texts in the order in which they come; plain text where
    there are too many."""
    column = column.rechunk()
    different = column.unique(maintain_order=True).drop_nulls()
    if len(different) > MOST:
        return column.cast(pl.String)
    kind = pl.Enum(different.cast(pl.String))
    size = pl.Series([], dtype=kind).to_physical().dtype
    return _places(column, different, size).cat.to(kind)


def places(column: pl.Series) -> tuple[pl.Series, pl.Series]:
    """The different texts in the order in which they come, and the place of each cell's text (UInt32, null: empty)."""
    different = column.unique(maintain_order=True).drop_nulls()
    if column.dtype == pl.String:
        return different, column.cast(pl.Enum(different)).to_physical().cast(pl.UInt32)
    return different.cast(pl.String), _places(column, different, pl.UInt32())


def _places(column: pl.Series, different: pl.Series, size: pl.DataType) -> pl.Series:
    """The place of each cell among the different ones of a listed or coded column."""
    known = different.to_physical().to_numpy()
    place = np.zeros(int(known.max(initial=0)) + 1, np.uint32)
    place[known] = np.arange(len(known), dtype=np.uint32)
    return pl.Series(column.name, place).cast(size).gather(column.to_physical())


def by_text(column: pl.Series, function: Callable[[pl.Series], pl.Series]) -> pl.Series:
    """What a function that looks at each cell alone makes of a column; of a coded one, text by text."""
    if not is_coded(column):
        return function(column)
    texts, at = places(column)
    return function(texts).gather(at)


def of_either(types: Collection[pl.DataType]) -> pl.Enum | None:
    """The type of columns that hold the texts of any of these types; None where one is not coded, or of too many."""
    lists = [dtype.categories for dtype in types if isinstance(dtype, pl.Enum)]
    if not lists or len(lists) < len(types):
        return None
    texts = pl.concat(lists).unique(maintain_order=True)
    return pl.Enum(texts) if len(texts) <= MOST else None


def text_of(column: pl.Series) -> pl.Series:
    """The column as text, if it is coded; else itself."""
    return column.cast(pl.String) if is_coded(column) else column


def as_text(frame: pl.DataFrame, but: Collection[str | None] = ()) -> pl.DataFrame:
    """The table with text in place of coded columns, other than some."""
    found = [column for column in frame.iter_columns() if is_coded(column) and column.name not in but]
    return frame.with_columns(text_of(column) for column in found) if found else frame
