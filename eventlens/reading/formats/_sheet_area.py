"""How far apart the cells of a sheet lie.

The reader of spreadsheets keeps the whole rectangle from the first to the last filled cell in memory, and takes the
process down when that does not fit. So the references of cells are looked at before.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from eventlens.errors import ReadingError
from eventlens.reading.formats._bounds import MOST_CELLS

_FAR_DOWN: Final = re.compile(rb"""\br\s*=\s*["'][A-Za-z]*(\d{4,})""")
_FAR_RIGHT: Final = re.compile(rb"""\br\s*=\s*["']([A-Za-z]{2,})\d""")
_REPEATED: Final = re.compile(rb"""<table:table-cell[^>]*number-columns-repeated\s*=\s*["'](\d{4,})[^>]*value-type""")
_NEAR_ROWS: Final = 999
_NEAR_COLUMNS: Final = 26
_LAST_ROW: Final = 1 << 20
_LAST_COLUMN: Final = 1 << 14
_OVERLAP: Final = 200
"""Bytes of a piece that are looked at again with the next one: a reference may lie across the border."""


def check_area(parts: Iterable[tuple[str, bytes]], path: Path) -> None:
    """ReadingError where the cells of a sheet lie outside the sheet or too far apart. `parts`: see document_parts."""
    rows, columns = 0, 0
    before, end = "", b""
    for name, piece in parts:
        if name != before:
            before, end, rows, columns = name, b"", _NEAR_ROWS, _NEAR_COLUMNS
        text = end + piece
        end = text[-_OVERLAP:]
        down = {digits[:9] for digits in _FAR_DOWN.findall(text)}
        right = {letters.upper()[:9] for letters in _FAR_RIGHT.findall(text)}
        rows = max([rows, *map(int, down)])
        columns = max([columns, *map(_number, right), *(int(n[:9]) for n in _REPEATED.findall(text))])
        if rows > _LAST_ROW or columns > _LAST_COLUMN:
            raise ReadingError("a whole spreadsheet", "cells that lie outside the sheet", "save it again", file=path)
        if rows * columns > MOST_CELLS:
            got = f"one with cells as far out as row {rows} and column {columns}"
            remedy = "delete the stray cells, or save the sheet as text"
            raise ReadingError(f"a sheet of at most {MOST_CELLS} cells", got, remedy, file=path)


def _number(letters: bytes) -> int:
    """A is 1, Z is 26, AA is 27."""
    value = 0
    for letter in letters:
        value = 26 * value + letter - 64
    return value
