"""Lines that are no row as they stand: read together with the lines after them, repaired, joined, or set aside."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from typing import Final

import polars as pl

from eventlens.reading.formats._bounds import LONGEST_CELL
from eventlens.reading.formats._header import header_like
from eventlens.reading.formats._looks import Looks
from eventlens.reading.formats._notation import QUOTE, Row, split, split_strictly
from eventlens.reading.formats._repair import reread
from eventlens.reading.raw import BAD_QUOTE, OTHER_TABLE, TOO_FEW, TOO_LONG, TOO_MANY

LONGEST_RECORD: Final = 64
"""Lines that a text may run over; more is taken for a quote that was never closed (common practice)."""
_SAID: Final = 5


class OddLines:
    """The odd lines of one text. Lines are counted from 0 here; `notes` adds the line of the first."""

    def __init__(
        self, lines: pl.Series, good: pl.Series, blank: pl.Series, mark: str, width: int, looks: Looks
    ) -> None:
        self.lines, self.good, self.blank = lines, good, blank
        self.mark, self.width, self.looks = mark, width, looks
        self.odd = (~(good | blank)).arg_true().to_list()
        self.taken: dict[int, Row] = {}
        self.refused: dict[int, str] = {}
        self.joined: set[int] = set()
        self.tails: dict[int, list[str]] = {}
        """Row -> continuation lines that belong to its last cell."""
        self.repaired: dict[str, list[int]] = {}
        self._tables: list[tuple[int, Row]] = []
        self._other: tuple[int, int] | None = None
        """Last line of another table, and its number of cells."""

    def read(self) -> None:
        """Sorts all odd lines."""
        for at in self.odd:
            if at not in self.joined:
                self._read_line(at)

    def _read_line(self, at: int) -> None:
        line = self.lines[at]
        if len(line) > LONGEST_CELL:
            self.refused[at] = TOO_LONG
            return
        cells = split(line, self.mark)
        if QUOTE in line and self._read_record(at):
            return
        if self._is_other_table(at, cells):
            self.refused[at] = OTHER_TABLE
            return
        tidy = len(cells) == self.width and split_strictly(line, self.mark) is not None
        if tidy and self.looks.fits(cells):
            self.taken[at] = cells
            return
        repair = reread(line, self.mark, self.width, self.looks)
        if repair:
            self.taken[at] = repair.cells
            self.repaired.setdefault(repair.fault, []).append(at)
        elif tidy:
            self.taken[at] = cells
        elif self._is_continuation(at, line):
            self._continue_row(at, line)
        elif line.count(QUOTE) % 2:
            self.refused[at] = BAD_QUOTE
        else:
            self.refused[at] = TOO_FEW if len(cells) < self.width else TOO_MANY

    def _read_record(self, at: int) -> bool:
        """Takes a record whose quoted text runs over several lines. A line that is a row is never swallowed."""
        joined = self.lines[at]
        if joined.count(QUOTE) % 2 == 0:
            return False
        for last in range(at + 1, min(at + LONGEST_RECORD, len(self.lines))):
            if self.good[last]:
                return False
            joined += "\n" + (self.lines[last] or "")
            if joined.count(QUOTE) % 2 == 0:
                cells = _split_record(joined, self.mark)
                if len(cells) != self.width:
                    return False
                self.taken[at] = cells
                self.joined.update(range(at + 1, last + 1))
                return True
        return False

    def _is_other_table(self, at: int, cells: Row) -> bool:
        """Whether the line is a row of another table, or the names of one that begins here."""
        if self._other and self._other[1] == len(cells) and self._all_blank(self._other[0] + 1, at):
            self._other = (at, len(cells))
            return True
        if len(cells) in (1, self.width) or not header_like(cells):
            return False
        after = [split(line, self.mark) for line in self.lines.slice(at + 1, 2).to_list() if line]
        if not after or any(len(row) != len(cells) or header_like(row) for row in after):
            return False
        self._other = (at, len(cells))
        self._tables.append((at, cells))
        return True

    def _all_blank(self, begin: int, end: int) -> bool:
        return begin >= end or bool(self.blank.slice(begin, end - begin).all())

    def _is_continuation(self, at: int, line: str) -> bool:
        """Whether the line goes on with the text at the end of the row before: no stamp, right below it."""
        before = at - 1
        return (
            bool(self.looks.width)
            and self.looks.prose[-1]
            and not self.looks.begins_row(line)
            and before >= 0
            and (self.good[before] or before in self.taken or before in self.joined)
        )

    def _continue_row(self, at: int, line: str) -> None:
        row = self._row_of(at - 1)
        if at - row >= LONGEST_RECORD:
            self.refused[at] = TOO_FEW
            return
        self.tails.setdefault(row, []).append(line.strip())
        self.joined.add(at)

    def notes(self, first: int) -> tuple[str, ...]:
        """What was read otherwise than it stands; `first` is the line of the log of the first line."""
        found = [
            f"{_lines_said(where, first)} {fault}: read as it fits the table." for fault, where in self.repaired.items()
        ]
        if self.tails:
            where = [at for at in sorted(self.joined) if self._row_of(at) in self.tails]
            found.append(f"{_lines_said(where, first)} no stamp: joined to the row before.")
        for at, cells in self._tables[:_SAID]:
            names = ", ".join(f"'{cell.strip()}'" for cell in cells[:_SAID])
            found.append(f"Another table ({names}) begins in line {at + first}: set aside.")
        return tuple(found)

    def _row_of(self, at: int) -> int:
        while at in self.joined:
            at -= 1
        return at


def _lines_said(where: Sequence[int], first: int) -> str:
    """'Line 7 has', 'Lines 7, 9 and 30 more have'."""
    if len(where) == 1:
        return f"Line {where[0] + first} has"
    shown = ", ".join(str(at + first) for at in where[:_SAID])
    more = f" and {len(where) - _SAID} more" if len(where) > _SAID else ""
    return f"Lines {shown}{more} have"


def _split_record(record: str, mark: str) -> list[str]:
    try:  # strict: text right after a closing quote shows that the quote closed nothing
        found = list(csv.reader(record.splitlines(keepends=True), delimiter=mark, strict=True))
        return found[0] if len(found) == 1 else []
    except csv.Error:
        return []
