"""The dialect of a delimited text, found from its first lines: notation, header row, where the data begin."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import polars as pl

from eventlens.reading.formats._header import (
    Row,
    find_header,
    groups_above,
    kind_of,
    looks_like_units,
    names_of,
    rows_of_names_above,
    usual_width,
)
from eventlens.reading.formats._looks import Looks
from eventlens.reading.formats._notation import BLANKS, QUOTE, canonical, mark_of, split, split_strictly
from eventlens.reading.formats._repair import reread
from eventlens.reading.formats._sniff import find_notation
from eventlens.reading.profile import Profile
from eventlens.reading.raw import Dialect, Notation

_LINES: Final = 300
"""Rows that names are fitted to."""
_HEAD: Final = 1000
"""Lines among which the header is looked for."""
_DATE: Final = re.compile(r"\d{1,4}([-./])\d{1,2}\1\d{1,4}|\d{1,2}[-. ]?[^\W\d_]{3,}[-. ]?\d{2,4}")
_TIME_OF_DAY: Final = re.compile(r"\d{1,2}:\d\d(:\d\d([.,:]\d+)?)?")


def find_dialect(
    lines: Sequence[str], profile: Profile, like: Dialect | None, *, path: object, encoding: str
) -> Dialect:
    """The dialect of a text that begins with these lines; what the profile or an earlier file states is taken over."""
    notation = _stated(profile) or find_notation(lines) or (like.written if like else Notation(","))
    rows = _head_rows(lines[:_HEAD], notation)
    header = _known_header(rows, like) if like else None
    header = find_header(rows, profile, str(path)) if header is None else header
    if like is not None and (header is None or not _same_names(names_of(rows, header), like.columns)):
        return Dialect(
            like.delimiter, like.columns, None, 1, like.fraction, encoding, like.joint, notation=like.notation
        )
    delimiter = notation.delimiter
    if header is None:
        width = usual_width(rows)
        start = next((at for at, row in enumerate(rows) if len(row) == width), 0)
        return Dialect(delimiter, name_columns([], width), None, start + 1, encoding=encoding, notation=notation)
    names = names_of(rows, header)
    below = rows[header + 1 :]
    again = next((at for at, row in enumerate(below) if _bare(row) != _bare(rows[header])), len(below))
    units = again < len(below) and looks_like_units(below[again], rows[header])
    places, fraction, joint = _fit_names(names, [row for row in below[again + units :][:_LINES] if row])
    first = header + 2 + again + units
    above = rows_of_names_above(rows, header)
    titles = tuple(_placed(row, places) for row in rows[header - above : first - 1])
    columns = name_columns(_placed(names, places), len(places))
    groups = bool(groups_above(rows, header))
    return Dialect(delimiter, columns, header + 1, first, fraction, encoding, joint, notation, titles, groups)


def _stated(profile: Profile) -> Notation | None:
    delimiter = profile.log.delimiter
    return BLANKS if delimiter == BLANKS.delimiter else Notation(delimiter) if delimiter else None


def _head_rows(lines: Sequence[str], notation: Notation) -> list[Row]:
    """The cells of the first lines; lines whose quotes are damaged are read as the table's width asks for."""
    mark = mark_of(notation)
    whole = canonical(pl.Series(lines, dtype=pl.String), notation).to_list()
    rows = [split(line, mark) if line.strip() else [] for line in whole]
    width = usual_width(rows)
    looks = Looks([])
    first = next((at for at, row in enumerate(rows) if len(row) == width), 0)
    for at, row in enumerate(rows):
        untidy = QUOTE in whole[at] and split_strictly(whole[at], mark) is None
        names = not at or (at == first - 1 and any(other in whole[at] for other in ";\t,|"))
        if row and (untidy or (len(row) != width and names)):
            repair = reread(whole[at], mark, width, looks)
            rows[at] = repair.cells if repair else row
    return rows


def name_columns(names: Sequence[str], width: int) -> tuple[str, ...]:
    """Names without gaps and without repeats: column_3 for a missing one, 'x_2' for the second 'x'."""
    found: dict[str, None] = {}
    for at in range(width):
        name = (names[at].strip() if at < len(names) else "") or f"column_{at + 1}"
        number, base = 2, name
        while name in found:
            name, number = f"{base}_{number}", number + 1
        found[name] = None
    return tuple(found)


def _placed(row: Row, places: Sequence[int | None]) -> tuple[str, ...]:
    """The cells of a row of names, a cell for each column."""
    return tuple("" if at is None else row[at].strip() for at in places)


def _bare(row: Row) -> Row:
    return [cell.strip() for cell in row]


def _fit_names(names: list[str], sample: Sequence[Row]) -> tuple[list[int | None], int | None, str]:
    """Which name each column has; where rows have one cell more, the place of a part of the stamp and what joins it."""
    width = usual_width(sample)
    places: list[int | None] = list(range(len(names)))
    surplus = len(names) - width
    if sample and 0 < surplus <= names.count("") and width > 1:  # the header has delimiters too many
        gaps = [at for at, name in enumerate(names) if not name]
        trailing = [at for at in gaps if at >= width]
        drop = set(trailing if len(trailing) == surplus else gaps[:surplus])
        places = [at for at in places if at not in drop]
    longer = [row for row in sample if len(row) == len(places) + 1]
    if not longer or 2 * len(longer) <= len(sample) or not places:
        return places, None, "."
    if all(not row[-1].strip() for row in longer):
        return [*places, None], None, "."  # every line ends with a delimiter
    starts_with_time = sum(kind_of(row[0]) == "time" for row in longer) > len(longer) // 2
    digits = {len(row[1]) for row in longer if row[1].isdecimal()}
    if starts_with_time and len(digits) == 1 and all(row[1].isdecimal() for row in longer):
        return [places[0], None, *places[1:]], 1, "."  # decimal comma between comma-separated cells
    if all(_DATE.fullmatch(row[0].strip()) and _TIME_OF_DAY.fullmatch(row[1].strip()) for row in longer):
        return [places[0], None, *places[1:]], 1, " "  # one name over date and time of day
    if not starts_with_time and sum(kind_of(row[1]) == "time" for row in longer) > len(longer) // 2:
        return [None, *places], None, "."  # an unnamed counter before the first named column
    return [*places, None], None, "."


def _known_header(rows: Sequence[Row], like: Dialect) -> int | None:
    """The first row that holds the names of an earlier file, in any order."""
    wanted = {name for name in like.columns if not name.startswith("column_")}
    return next((at for at in range(len(rows)) if wanted and wanted == set(filter(None, names_of(rows, at)))), None)


def _same_names(names: Sequence[str], columns: Sequence[str]) -> bool:
    """Whether a row holds the names of an earlier file: half of them in any order is taken for the header."""
    own = set(filter(None, names))
    return len(own & set(columns)) * 2 >= max(len(own), 1) and bool(own & set(columns))
