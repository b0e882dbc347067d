"""The row of column names of a delimited text, told from preamble, units and data by what its cells look like."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import zip_longest
from typing import Final

from eventlens.errors import ReadingError
from eventlens.reading.profile import Profile

Row = list[str]

_STAMP: Final = re.compile(
    r"\d{1,4}[-./]\d{1,2}[-./]\d{1,4}|\d{1,2}[-. ]\s*[^\W\d_]{3,}|[^\W\d_]{3,9}\.? +\d{1,2}\b|\d{1,2}:\d{2}(?::|\b)"
    r"|\d{8}(?:T|$)|(?:\d\d ){5}"
)
_NUMBER: Final = re.compile(r"[-+]?[\d.,]*\d[\d.,]*(?:[eE][-+]?\d+)?%?|0[xX][0-9a-fA-F]+")
_WORDS: Final = frozenset(
    {"true", "false", "on", "off", "yes", "no", "ein", "aus", "an", "ja", "nein", "wahr", "falsch", "open", "closed"}
)
_UNIT: Final = re.compile(r"[\[(]?[A-Za-zµμ°%Ω²³/·.^\d-]{0,8}[\])]?")
_UNIT_IN_BRACKETS: Final = re.compile(r"[\[(].*[\])]")
_CANDIDATES: Final = 50
_FEW: Final = 2
_LINES: Final = 300
"""Rows below a candidate that are looked at."""


def kind_of(cell: str) -> str:
    """What a cell looks like: 'empty', 'time', 'number', 'word' (on/off) or 'text'."""
    cell = cell.strip()
    if not cell:
        return "empty"
    if _NUMBER.fullmatch(cell) and cell.count(".") < 2:
        return "number"
    if _STAMP.match(cell):
        return "time"
    return "word" if cell.casefold() in _WORDS else "text"


def usual_width(rows: Sequence[Row]) -> int:
    """The usual number of cells: of rows with a stamp, the first of equals; else later rows weigh more, because what
    comes before a table is short."""
    stamped: Counter[int] = Counter()
    weight: Counter[int] = Counter()
    for at, row in enumerate(rows[:_LINES]):
        if row:
            weight[len(row)] += at + 1
            stamped[len(row)] += len(row) > 1 and any(kind_of(cell) == "time" for cell in row)
    width, most = max(stamped.items(), key=lambda item: item[1], default=(1, 0))
    if 2 * most > sum(stamped.values()) or (most > _FEW and len(stamped) > 1):
        return width
    return max(weight, key=lambda width: (weight[width], width), default=1)


def find_header(rows: Sequence[Row], profile: Profile, path: str) -> int | None:
    """Position of the row of names: stated by the profile, or holding its time columns, or found; None: there is none.

    Raises ReadingError if the stated row holds nothing.
    """
    stated = profile.log.header
    if stated is False:
        return None
    if stated is not None:
        if stated > len(rows) or not rows[stated - 1]:
            raise ReadingError(f"the column names in row {stated}", "no text there", "correct [log] header", file=path)
        return stated - 1
    if profile.log.time:
        wanted = set(profile.log.time)
        holding = [at for at in range(len(rows)) if wanted <= set(names_of(rows, at))]
        if holding:
            first, second = holding[0], holding[0] + 1
            # where a row of groups stands above the names, the column of the stamps may have its name there
            return second if second in holding and groups_above(rows, second) else first
    return _likely_header(rows)


def names_of(rows: Sequence[Row], at: int) -> list[str]:
    """The names that a row gives its columns, each behind that of its group where the row above names groups.

    Time;Hoist;;Trolley      Time, Hoist up, Hoist brake, Trolley left
    ;up;brake;left
    """
    names = [re.sub(r"\s+", " ", cell.strip()) for cell in rows[at]]
    groups = groups_above(rows, at)
    return [" ".join(filter(None, pair)) for pair in zip(groups, names, strict=True)] if groups else names


def groups_above(rows: Sequence[Row], at: int) -> list[str]:
    """The group of each column from the row above; [] where that holds none, or where nothing asks for them.

    A group reaches as far as the row of groups is blank, as merged cells do; what stands above a gap is a name itself.
    Groups are asked for by gaps in the row of names, or by names that repeat.
    """
    names = [cell.strip() for cell in rows[at]]
    above = _trimmed([cell.strip() for cell in rows[at - 1]]) if at else []
    while names and not names[-1] and len(above) < len(names):  # a delimiter at the end of every line
        names.pop()
    own, named = [name for name in names if name], [cell for cell in above if cell]
    if len(above) > len(names) or len(named) < _FEW or not own or len(set(own)) == len(names):
        return []
    if len(set(named)) == len(names):  # a name for each: what stands below them are units
        return []
    if any(kind_of(cell) not in ("text", "word") for cell in (*named, *own)):
        return []
    groups: list[str] = []
    group = ""
    for over, name in zip_longest(above, names, fillvalue=""):
        group = (over or group) if name else ""
        groups.append(group if name else over)
    joined = [f"{group} {name}" for group, name in zip(groups, names, strict=True)]
    if " " in joined or len({*joined}) < len(joined):
        return []
    return groups + [""] * (len(rows[at]) - len(groups))


def _trimmed(cells: Row) -> Row:
    while cells and not cells[-1]:
        cells = cells[:-1]
    return cells


def _likely_header(rows: Sequence[Row]) -> int | None:
    """The row of names with the most rows of its width below it and none of their kind above it."""
    likely = [at for at, row in enumerate(rows) if row and header_like(row)][:_CANDIDATES]
    data = [row for row in rows[:_LINES] if row and not header_like(row)]
    if not likely:
        return None
    if not data:  # names only, or a table of texts
        widest = max(len(rows[at]) for at in likely)
        return next(at for at in likely if len(rows[at]) == widest)
    best, best_support = None, (0.0, 0.0)
    names = [frozenset(cell.strip() for cell in rows[at]) for at in likely]
    for number, at in enumerate(likely):
        if names[number] in names[:number]:  # the header again, perhaps in another order
            continue
        later = (likely[other] for other in range(number + 1, len(likely)) if names[other] != names[number])
        below = [row for row in rows[at + 1 : at + 1 + _LINES] if row and not header_like(row)]
        width = len(rows[at])
        fitting = [row for row in below if len(row) == width] or [row for row in below if len(row) == width + 1]
        support = (_support(rows[at + 1 : next(later, len(rows))], rows[at]), len(fitting) / max(len(below), 1))
        if support > best_support and not _begun_before(rows[:at], fitting):
            best, best_support = at, support
    if best is None and likely[0] == next(at for at, row in enumerate(rows) if row) and len(data) <= _FEW:
        best = likely[0] if len(rows[likely[0]]) > 1 else None  # nothing but damaged rows below it
    if best and rows[best - 1] and looks_like_units(rows[best], rows[best - 1]) and not groups_above(rows, best):
        return best - 1
    return best


def _support(rows: Sequence[Row], header: Row) -> float:
    """How many rows up to the next header fit this one; a row without a stamp counts little.

    Rows may have a cell more than there are names, or lack one where the header has a gap.
    """
    width, gaps = len(header), sum(not cell.strip() for cell in header)
    support = 0.0
    for row in rows:
        if row and width - gaps <= len(row) <= width + 1 and not header_like(row):
            exact = 1.0 if len(row) == width else 0.9
            support += exact * (1.0 if any(kind_of(cell) == "time" for cell in row) else 0.2)
    return support


def _begun_before(above: Sequence[Row], below: Sequence[Row]) -> bool:
    """Whether the table has begun above: a row there has a stamp where the rows below have theirs."""
    if not below:
        return False
    for column in range(len(below[0])):
        if 2 * sum(kind_of(row[column]) == "time" for row in below) >= len(below):
            return any(len(row) == len(below[0]) and kind_of(row[column]) == "time" for row in above)
    if len(below[0]) > 1 and above and _names_too(above[-1], below[0]):
        return True  # a table of texts without a stamp: what stands above may be a record as well
    return any(len(row) == len(below[0]) and not header_like(row) for row in above)


def rows_of_names_above(rows: Sequence[Row], header: int) -> int:
    """How many rows directly above the row of names are of its kind: a name wherever that row has one."""
    found = 0
    while found < header and _names_too(rows[header - found - 1], rows[header]):
        found += 1
    return found


def _names_too(row: Row, names: Row) -> bool:
    full = len(row) == len(names) and all(cell.strip() for cell, name in zip(row, names, strict=True) if name.strip())
    return full and header_like(row)


def header_like(row: Row) -> bool:
    """Whether a row may hold names: text only, few gaps, few repeats."""
    cells = [cell.strip() for cell in row]
    named = [cell for cell in cells if cell]
    return (
        len(named) >= max(1, len(cells) // 2)
        and 2 * len(set(named)) > len(named)
        and all(kind_of(cell) in ("text", "word", "empty") for cell in cells)
    )


def looks_like_units(row: Row, above: Row) -> bool:
    """Whether a row below the names holds units: all in brackets, or short and with a gap."""
    cells = [cell.strip() for cell in row]
    if len(row) != len(above) or not any(cells):
        return False
    if any(_UNIT_IN_BRACKETS.fullmatch(cell) for cell in cells if cell):
        return all(_UNIT_IN_BRACKETS.fullmatch(cell) for cell in cells if cell)
    return (
        "" in cells
        and all(_UNIT.fullmatch(cell) for cell in cells)
        and all(cell.strip() for cell in above)
        and all(kind_of(cell) in ("text", "empty") for cell in cells)
    )
