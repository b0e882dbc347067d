"""The notation of a text, found from a sample of its lines: each candidate is scored by the table that it gives.

A candidate is good where most lines get the same number of cells, most cells look like a stamp, a number or on/off,
and few cells still hold what looks like a delimiter.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Final

import polars as pl

from eventlens.reading.formats._header import Row, header_like, kind_of, usual_width
from eventlens.reading.formats._notation import BLANKS, WIDE_BLANKS, canonical, mark_of, split
from eventlens.reading.raw import Notation

_USUAL: Final = (";", "\t", ",", "|")
_OTHERS: Final = ("^", "~", "\x1f", "\x1e", "\x01", "\x02", "¦", "§", "#", "!", "&", "$", "*", "%", "@", "=")
_QUOTES: Final = ("'", "“”", "„“", "«»", "`")
_LINES: Final = 300
"""Lines that are looked at for the delimiter."""
_RUN: Final = re.compile(r"[^\w\s\"'+.,:;-]{2,4}|::|;;|,,|--|->|, (?=\S)")
"""What may be a delimiter of several characters."""
_WIDE: Final = re.compile(r"\S {2,}\S|\S\t\S")
_DECIMAL: Final = re.compile(r"[-+]?[\d.]*\d,\d+%?|\S*\d:\d\d,\d{1,9}")
_ALL: Final = 0.98
"""Share of lines with the usual number of cells from which on a notation by blanks is certain (common practice)."""
_FEW: Final = 3
_STEADY: Final = 0.9
"""Share of lines with as many cells as the next one from which on widths change between tables only (as above)."""
_WIDEST: Final = 4000
"""Characters of a line that are looked at for columns of fixed width."""


def find_notation(lines: Sequence[str]) -> Notation | None:
    """The notation under which the lines become the best table; None if there is only one column."""
    sample = [line for line in lines[:_LINES] if line.strip()]
    if not sample:
        return None
    for least in (0.5, 0.0):  # most lines fit; else, in a flood of bad lines, a few
        usual = _best(sample, _quoted(sample, (Notation(mark) for mark in _USUAL)), least)
        if usual and not (usual.delimiter == "," and _comma_is_decimal(sample)):
            return _longer(sample, usual)
        weak = usual or _best(sample, _quoted(sample, (Notation(mark) for mark in _USUAL if mark != ",")), least / 2)
        if weak and weak.delimiter != ",":
            return _longer(sample, weak)
        runs = [Notation(mark) for mark in _runs(sample)]
        others = _best(sample, _quoted(sample, [*runs, *(Notation(mark) for mark in _OTHERS)]), least)
        found = (
            _by_names(sample) or others or _by_blanks(sample, least) or usual or _best(sample, [Notation(":")], least)
        )
        if found:
            return found
    return None


def _best(lines: Sequence[str], candidates: Iterable[Notation], least: float) -> Notation | None:
    scored = [(_score(_rows(lines, notation), least), -at, notation) for at, notation in enumerate(candidates)]
    best = max(scored, default=(0.0, 0, None), key=lambda entry: entry[:2])
    return best[2] if best[0] > 0 else None


def _rows(lines: Sequence[str], notation: Notation) -> list[Row]:
    mark = mark_of(notation)
    return [split(line, mark) for line in canonical(pl.Series(lines, dtype=pl.String), notation)]


def _score(rows: Sequence[Row], least: float) -> float:
    """How well a notation fits; 0 where fewer lines than the share `least` have the usual number of cells."""
    width = usual_width([row for row in rows if len(row) > 1])
    if width < 2:
        return 0.0
    weights = [at + 1 for at in range(len(rows))]
    fitting = [row for row in rows if len(row) == width]
    consistent = sum(w for w, row in zip(weights, rows, strict=True) if len(row) == width) / sum(weights)
    steady = sum(len(row) == len(after) > 1 for row, after in pairwise(rows)) / len(rows)
    if steady > _STEADY:  # several tables in one file
        consistent = max(consistent, steady)
    if consistent < least:
        return 0.0
    cells = [(kind_of(cell), cell) for row in fitting for cell in row]
    typed = sum(kind in ("time", "number", "word") for kind, _ in cells) / len(cells)
    unsplit = sum(
        (kind in ("text", "time") and any(mark in cell for mark in (";", "\t", "|")))
        or bool(_WIDE.search(cell.strip()))
        for kind, cell in cells
    ) / len(cells)
    return float(consistent * (0.3 + typed) * (1 - unsplit) * (1 + 0.1 * min(width, 10)))


def _quoted(lines: Sequence[str], plain: Iterable[Notation]) -> list[Notation]:
    """The notations, each also with the quotes other than double ones that begin and end cells in the lines."""
    found: list[Notation] = []
    for notation in plain:
        between = re.escape(notation.delimiter)
        found.append(notation)
        for quote in _QUOTES:
            opening, closing = re.escape(quote[0]), re.escape(quote[-1])
            cell = re.compile(rf"(?:^|{between}) *{opening}.*{closing} *(?:{between}|$)")
            if quote[0] in lines[-1] + lines[0] and sum(bool(cell.search(line)) for line in lines) > len(lines) // 2:
                found.insert(len(found) - 1, Notation(notation.delimiter, quote))
    return found


def _longer(lines: Sequence[str], notation: Notation) -> Notation:
    """The notation with a delimiter of several characters, where the one found never stands alone."""
    mark = notation.delimiter
    doubled = [line.count(mark) for line in lines]
    if all(line.count(2 * mark) * 2 == count for line, count in zip(lines, doubled, strict=True)):
        return Notation(2 * mark, notation.quote)
    around = {mark_ for line in lines for mark_ in _RUN.findall(line) if mark in mark_ and " " not in mark_}
    longer = around.pop() if len(around) == 1 else mark
    alone = any(line.count(longer) * longer.count(mark) != line.count(mark) for line in lines)
    return notation if alone else Notation(longer, notation.quote)


def _runs(lines: Sequence[str]) -> list[str]:
    """Runs of punctuation that occur equally often in most lines, the longest first."""
    counts: Counter[tuple[str, int]] = Counter()
    for line in lines:
        counts.update(Counter(_RUN.findall(line)).items())
    usual = {mark for (mark, _), count in counts.items() if 2 * count > len(lines)}
    return sorted(usual, key=lambda mark: (-len(mark), mark))


def _comma_is_decimal(lines: Sequence[str]) -> bool:
    """Whether blanks keep the cells apart and each comma stands inside a number, or a stamp with more behind it."""
    rows = [line.split() for line in lines]
    width = usual_width(rows)
    same = sum(len(row) == width for row in rows) >= 0.9 * len(rows)
    if width < 3 or not (same or len(fixed_starts(lines)) >= 3):
        return False
    cells = [(cell, at == len(row) - 1) for row in rows for at, cell in enumerate(row) if "," in cell]
    return all(_DECIMAL.fullmatch(cell) and not (last and ":" in cell) for cell, last in cells)


def _by_blanks(lines: Sequence[str], least: float) -> Notation | None:
    """Cells kept apart by blanks: by runs of them, or columns of fixed width."""
    below = lines[1:] if len(lines) > _FEW else lines  # names may have blanks in them, or stand for two columns
    wide = _rows(below, WIDE_BLANKS)
    whole_stamps = sum(any(" " in cell and kind_of(cell) == "time" for cell in row) for row in wide)
    for notation in (WIDE_BLANKS, BLANKS) if 2 * whole_stamps > len(wide) else (BLANKS, WIDE_BLANKS):
        if _score(_rows(below, notation), _ALL) > 0:
            return notation
    starts = fixed_starts(lines)
    if len(starts) > 1:
        return Notation(" ", starts=starts)
    return _best(lines, [WIDE_BLANKS, BLANKS, Notation(" ")], least)


def _by_names(lines: Sequence[str]) -> Notation | None:
    """Blanks, where the names tell the number of columns and a text without quotes has blanks in it."""
    best, most = None, _FEW
    for notation in (BLANKS, Notation(" ")):
        rows = _rows(lines, notation)
        width = len(rows[0])
        long = sum(len(row) >= width and kind_of(row[0]) == "time" for row in rows)
        exact = sum(len(row) == width for row in rows)
        if width > 2 and header_like(rows[0]) and long >= 0.9 * (len(rows) - 1) and exact > most:
            best, most = notation, exact
    return best


def fixed_starts(lines: Sequence[str]) -> tuple[int, ...]:
    """The characters at which columns of fixed width begin: after those that are blank in all rows with a stamp.

    A date and its time of day stay together, and so do words one blank apart that have no name of their own.
    """
    lines = [line.expandtabs()[:_WIDEST] for line in lines]
    data = [line for line in lines if kind_of(line) in ("time", "number")]
    if len(data) < 3:
        return ()
    width = max(map(len, data))
    used = [sum(line[at : at + 1].strip() != "" for line in data) for at in range(width)]
    others = [sum(line[at : at + 1].strip() != "" for line in lines) for at in range(width)]
    few = len(data) // 50  # a line in fifty may be damaged
    starts = [0]
    at = 0
    while at < width:
        if used[at] > few:
            at += 1
            continue
        end = at
        while end < width and used[end] <= few:
            end += 1
        stop = next((place for place in range(end, width) if used[place] <= few), width)
        inside_stamp = end == at + 1 and all(
            kind_of(line[starts[-1] : at]) == kind_of(line[end:]) == "time" for line in data
        )
        if at > 0 and end < width and not inside_stamp and (end > at + 1 or _has_name(lines, end, stop)):
            cut = min(range(at, end), key=lambda place: (others[place], -place))
            starts.append(cut)
        at = end
    return tuple(starts)


def _has_name(lines: Sequence[str], begin: int, end: int) -> bool:
    """Whether a name begins in this part of the line above the data; True where there are no names."""
    first = next((at for at, line in enumerate(lines) if kind_of(line) in ("time", "number")), 0)
    return not first or bool(re.search(r"\s\S", lines[first - 1][begin - 1 : end]))
