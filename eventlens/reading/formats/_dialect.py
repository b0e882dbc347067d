"""The dialect of a delimited text, found from its first lines: delimiter, header row, where the data begin."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from typing import Final

from eventlens.reading.formats._header import Row, find_header, kind_of, looks_like_units, usual_width
from eventlens.reading.profile import Profile
from eventlens.reading.raw import Dialect

QUOTE: Final = '"'
_USUAL: Final = (";", "\t", ",", "|")
_OTHERS: Final = ("^", "~", "\x1f", "\x01", "#", "!", "&", "$", "*", "%", "@", "=")
_LAST: Final = (" ", ":")
"""Delimiters that also stand inside stamps."""
_LINES: Final = 300
"""Lines that are looked at for the delimiter."""
_HEAD: Final = 1000
"""Lines among which the header is looked for."""


def split(line: str, delimiter: str) -> Row:
    """The cells of one line."""
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=delimiter != " "), [])
    except csv.Error:
        return line.split(delimiter)


def find_dialect(
    lines: Sequence[str], profile: Profile, like: Dialect | None, *, path: object, encoding: str
) -> Dialect:
    """The dialect of a text that begins with these lines; what the profile or an earlier file states is taken over."""
    delimiter = profile.log.delimiter or _delimiter_of(lines) or (like.delimiter if like else ",")
    rows = [split(line, delimiter) if line.strip() else [] for line in lines[:_HEAD]]
    header = _known_header(rows, like) if like else None
    header = find_header(rows, profile, str(path)) if header is None else header
    if like is not None and (header is None or not _same_names(rows[header], like.columns)):
        return Dialect(like.delimiter, like.columns, None, 1, like.fraction, encoding)
    if header is None:
        width = usual_width(rows)
        start = next((at for at, row in enumerate(rows) if len(row) == width), 0)
        return Dialect(delimiter, name_columns([], width), None, start + 1, encoding=encoding)
    names = [name.strip() for name in rows[header]]
    columns, fraction = _fit_names(names, [row for row in rows[header + 1 : header + 1 + _LINES] if row])
    units = header + 1 < len(rows) and looks_like_units(rows[header + 1], rows[header])
    return Dialect(delimiter, columns, header + 1, header + 2 + units, fraction, encoding)


def name_columns(names: Sequence[str], width: int) -> tuple[str, ...]:
    """Names without gaps and without repeats: column_3 for a missing one, 'x_2' for the second 'x'."""
    found: list[str] = []
    for at in range(width):
        name = (names[at].strip() if at < len(names) else "") or f"column_{at + 1}"
        number, base = 2, name
        while name in found:
            name, number = f"{base}_{number}", number + 1
        found.append(name)
    return tuple(found)


def _delimiter_of(lines: Sequence[str]) -> str | None:
    """The delimiter under which most lines have the same number of cells and most cells look like something."""
    sample = [line for line in lines[:_LINES] if line.strip()]
    for least in (0.5, 0.0):  # most lines fit; else, in a flood of bad lines, a few
        for choice in (_USUAL, _OTHERS, _LAST):
            best = max((_score(sample, mark, least), -at, mark) for at, mark in enumerate(choice))
            if best[0] > 0:
                return best[2]
    return None


def _score(lines: Sequence[str], delimiter: str, least: float) -> float:
    """How well a delimiter fits; 0 where fewer lines than the share `least` have the usual number of cells."""
    rows = [split(line, delimiter) for line in lines]
    width = usual_width([row for row in rows if len(row) > 1])
    if width < 2:
        return 0.0
    weights = [at + 1 for at in range(len(rows))]
    fitting = [row for row in rows if len(row) == width]
    consistent = sum(w for w, row in zip(weights, rows, strict=True) if len(row) == width) / sum(weights)
    if consistent < least:
        return 0.0
    cells = [(kind_of(cell), cell) for row in fitting for cell in row]
    typed = sum(kind in ("time", "number", "word") for kind, _ in cells) / len(cells)
    others = [mark for mark in _USUAL if mark != delimiter]
    unsplit = sum(kind == "text" and any(mark in cell for mark in others) for kind, cell in cells) / len(cells)
    return float(consistent * (0.3 + typed) * (1 - unsplit) * (1 + 0.1 * min(width, 10)))


def _fit_names(names: list[str], sample: Sequence[Row]) -> tuple[tuple[str, ...], int | None]:
    """Names for rows that have one cell more than the header: where does the surplus cell belong?"""
    longer = [row for row in sample if len(row) == len(names) + 1]
    if not longer or 2 * len(longer) <= len(sample) or not names:
        return name_columns(names, len(names)), None
    width = len(names) + 1
    if all(not row[-1].strip() for row in longer):
        return name_columns(names, width), None  # every line ends with a delimiter
    starts_with_time = sum(kind_of(row[0]) == "time" for row in longer) > len(longer) // 2
    digits = {len(row[1]) for row in longer if row[1].isdecimal()}
    if starts_with_time and len(digits) == 1 and all(row[1].isdecimal() for row in longer):
        return name_columns([names[0], "", *names[1:]], width), 1  # decimal comma between comma-separated cells
    if not starts_with_time and sum(kind_of(row[1]) == "time" for row in longer) > len(longer) // 2:
        return name_columns(["", *names], width), None  # an unnamed counter before the first named column
    return name_columns(names, width), None


def _known_header(rows: Sequence[Row], like: Dialect) -> int | None:
    """The first row that holds the names of an earlier file, in any order."""
    wanted = {name for name in like.columns if not name.startswith("column_")}
    return next((at for at, row in enumerate(rows) if wanted and wanted == {c.strip() for c in row if c.strip()}), None)


def _same_names(row: Row, columns: Sequence[str]) -> bool:
    """Whether a row holds the names of an earlier file: half of them in any order is taken for the header."""
    own = {cell.strip() for cell in row if cell.strip()}
    return len(own & set(columns)) * 2 >= max(len(own), 1) and bool(own & set(columns))
