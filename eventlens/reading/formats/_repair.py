"""One line that does not have the table's number of cells: how else can it be read so that it fits the table?

    2026-03-02 06:00:00;K11;"10" rope"          a quote inside a quoted cell
    "2026-03-02 06:00:00;K11;1                  a stray quote: it stays part of the text
    2026-03-02 06:00:00,K11,1                   another delimiter in this line
    2026-03-02 06:00:00;;K11;1                  a delimiter too many
    2026-03-02 06:00:00;E7;Trip; call service   a delimiter inside text without quotes

A reading is taken only where it is the only one under which every cell looks like its column.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Final

from eventlens.reading.formats._looks import Looks, only
from eventlens.reading.formats._notation import QUOTE, Row, split

QUOTES = "quotes that are not in order"
DELIMITER = "another delimiter"
SURPLUS = "an empty cell too many"
INSIDE = "delimiters inside a text without quotes"

_MARKS: Final = (";", "\t", ",", "|", " ")
_STEPS: Final = 2000
"""Partial readings of one line that are tried (common practice)."""
_TRIED: Final = 20
"""Whole readings of one line that are looked at."""


@dataclass(frozen=True)
class Repair:
    """The cells of a damaged line, and what was wrong with it."""

    cells: Row
    fault: str


def reread(line: str, mark: str, width: int, looks: Looks) -> Repair | None:
    """The line as a row of the table, or None."""
    if QUOTE in line:
        found = _by_quotes(line, mark, width, looks)
        if found:
            return Repair(found, QUOTES)
    for other in _MARKS:
        if other != mark and line.count(other) >= width - 1 > 0:
            cells = _by_delimiter(line, other, width, looks)
            if cells:
                return Repair(cells, DELIMITER)
    cells = split(line, mark)
    if len(cells) <= width:
        return None
    if found := _without_empty(cells, width, looks):
        return Repair(found, SURPLUS)
    if found := _merged(line, mark, width, looks):
        return Repair(found, INSIDE)
    return None


def _by_quotes(line: str, mark: str, width: int, looks: Looks) -> Row | None:
    """The first reading of the quotes that fits; a quote that opens and closes nothing is text."""
    return next((cells for cells in islice(readings(line, mark, width), _TRIED) if looks.fits(cells)), None)


def readings(line: str, mark: str, width: int) -> Iterator[Row]:
    """All ways to cut the line into `width` cells where a quote opens only at the begin of a cell and closes only at
    its end. Quoted cells come first, the shortest first; then the quote as a part of the text."""
    stack: list[tuple[int, Row]] = [(0, [])]
    for _ in range(_STEPS):
        if not stack:
            return
        at, cells = stack.pop()
        if at > len(line):
            if len(cells) == width:
                yield cells
            continue
        if len(cells) == width:
            continue
        end = line.find(mark, at)
        end = len(line) if end < 0 else end
        stack.append((end + len(mark), [*cells, line[at:end]]))
        begin = at
        while mark != " " and line[begin : begin + 1] == " ":
            begin += 1
        if line[begin : begin + 1] == QUOTE:
            stack += [(end + len(mark), [*cells, text]) for text, end in reversed(_closings(line, begin + 1, mark))]


def _closings(line: str, begin: int, mark: str) -> list[tuple[str, int]]:
    """Quoted text from `begin` on with the place of the delimiter after it, for each quote that may close it."""
    found: list[tuple[str, int]] = []
    between = QUOTE + mark + QUOTE
    at = line.find(QUOTE, begin)
    while at >= 0:
        end = at + 1
        while mark != " " and line[end : end + 1] == " ":
            end += 1
        if line.startswith(between, begin) or between in line[begin:at]:
            break  # this quote closes no cell: the next cells' quotes are in between
        if (end >= len(line) or line.startswith(mark, end)) and line[at - 1] != "\\":
            text = line[begin:at].replace(2 * QUOTE, QUOTE).replace("\\" + QUOTE, QUOTE)
            found.append((text, min(end, len(line))))
        at = line.find(QUOTE, at + 1)
    return found


def _by_delimiter(line: str, mark: str, width: int, looks: Looks) -> Row | None:
    """The line cut at another delimiter. Blanks stand inside texts too, so there texts may be put together again."""
    if looks.width and all(looks.free):
        return None
    cells = split(line, mark)
    if len(cells) == width and looks.fits(cells):
        return [cell.strip() for cell in cells]
    return _merged(line, mark, width, looks) if mark == " " and len(cells) > width else None


def _without_empty(cells: Row, width: int, looks: Looks) -> Row | None:
    """The row without one empty cell, if only one place for it makes the row fit."""
    if not any(cell.strip() for cell in cells[width:]) and looks.fits(cells[:width]):
        return cells[:width]
    if len(cells) != width + 1 or not looks.width:
        return None
    shorter = ([*cells[:at], *cells[at + 1 :]] for at, cell in enumerate(cells) if not cell.strip())
    return only(row for row in shorter if looks.fits(row))


def _merged(line: str, mark: str, width: int, looks: Looks) -> Row | None:
    """The row with its surplus cells put back into one column of text, if only one column makes the row fit."""
    cells = split(line, mark)
    if not looks.width or len(cells) <= width:
        return None
    raw = re.findall(rf'(?:^|{re.escape(mark)})(" *(?:[^"]|"")*"|[^{re.escape(mark)}]*)', line)
    quoted = [text.startswith(QUOTE) for text in raw] if len(raw) == len(cells) else [False] * len(cells)
    surplus = len(cells) - width + 1
    rows = (
        [*cells[:at], mark.join(cells[at : at + surplus]), *cells[at + surplus :]]
        for at in range(width)
        if looks.free[at] and not any(quoted[at : at + surplus])  # a quoted cell is whole
    )
    return only(row for row in rows if looks.fits(row))
