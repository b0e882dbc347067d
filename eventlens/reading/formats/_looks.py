"""What the cells of each column look like, so that a damaged row can be told to fit the table or not."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from eventlens.reading.formats._header import Row, kind_of

_ENOUGH: Final = 3
"""Rows without which columns have no known look."""
_FEW: Final = 6
"""Shapes of text; a column with more of them holds free text."""
_LETTERS: Final = re.compile(r"[^\W\d_]+")
_DIGITS: Final = re.compile(r"\d+")


def look(cell: str) -> str:
    """The kind of a cell; for text with digits in it its shape: 'K11' -> 'A9'."""
    kind = kind_of(cell)
    if kind != "text" or not any(character.isdigit() for character in cell):
        return kind
    return _DIGITS.sub("9", _LETTERS.sub("A", cell.strip()))


class Looks:
    """The looks that occur in each column of some good rows."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.width = len(rows[0]) if len(rows) >= _ENOUGH else 0
        self.seen = [Counter(look(row[at]) for row in rows) for at in range(self.width)]
        self.free = [
            seen["text"] > 0 or sum(kind not in ("time", "number", "word", "empty") for kind in seen) > _FEW
            for seen in self.seen
        ]
        prose = [sum(" " in row[at].strip() for row in rows) for at in range(self.width)]
        self.prose = [2 * count > len(rows) and self.free[at] for at, count in enumerate(prose)]
        """Whether a column holds sentences."""

    def fits(self, row: Row) -> bool:
        """Whether each cell looks like its column; True where the columns are not known."""
        return not self.width or all(map(self._fits_column, range(self.width), row))

    def _fits_column(self, at: int, cell: str) -> bool:
        own = look(cell.strip(' "'))  # a stray quote stays in its cell
        if own == "time" and cell.strip(' "')[0].isalpha():  # 'Step 2 was left', or 'May 2'
            own = "text"
        return own in self.seen[at] or (self.free[at] and own not in ("empty", "time", "number"))

    def begins_row(self, line: str) -> bool:
        """Whether a line begins like the rows of a table whose first column holds stamps, or nothing tells."""
        first = next((at for at, seen in enumerate(self.seen) if 2 * seen["time"] > seen.total()), None)
        return first != 0 or kind_of(line) in ("time", "number") or line.lstrip()[:4].isdigit()


def only(found: Iterable[Row]) -> Row | None:
    """The row if all that were found are alike, else None."""
    distinct = {tuple(row) for row in found}
    return list(distinct.pop()) if len(distinct) == 1 else None
