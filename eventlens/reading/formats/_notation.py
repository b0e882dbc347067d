"""Lines of any notation -> lines with one delimiter of one byte and double quotes, which the parsers know."""

from __future__ import annotations

import csv
import re
from typing import Final

import polars as pl

from eventlens.reading.raw import Notation

QUOTE: Final = '"'
FIELD: Final = "\x1f"
"""The delimiter that lines get whose own one is no single byte."""
BLANKS: Final = Notation(" ", runs=True)
WIDE_BLANKS: Final = Notation("  ", runs=True)

Row = list[str]


def mark_of(notation: Notation) -> str:
    """The delimiter after `canonical`."""
    if notation.starts or notation == WIDE_BLANKS:
        return FIELD
    return notation.delimiter if len(notation.delimiter.encode()) == 1 else FIELD


def is_plain(notation: Notation) -> bool:
    """Whether lines need no conversion."""
    return notation.quote == QUOTE and not notation.runs and mark_of(notation) == notation.delimiter


def canonical(lines: pl.Series, notation: Notation) -> pl.Series:
    """The lines with `mark_of` as delimiter and double quotes; null stays null."""
    if is_plain(notation):
        return lines
    mark = mark_of(notation)
    line = pl.col("line")
    if mark == FIELD:
        line = line.str.replace_all(FIELD, " ", literal=True)
    if notation.starts:
        ends = (*notation.starts[1:], None)
        cells = [
            line.str.slice(start, None if end is None else end - start).str.strip_chars()
            for start, end in zip(notation.starts, ends, strict=True)
        ]
        line = pl.concat_str(cells, separator=FIELD)
    elif notation.runs:
        least = len(notation.delimiter)
        line = line.str.strip_chars(" \t").str.replace_all(rf"[ \t]{{{least},}}|\t", mark)
    elif mark != notation.delimiter:
        line = line.str.replace_all(notation.delimiter, mark, literal=True)
    if notation.quote != QUOTE:
        opening, closing = re.escape(notation.quote[0]), re.escape(notation.quote[-1])
        between = re.escape(mark)
        line = line.str.replace_all(f"(^|{between}) *{opening}", f"${{1}}{QUOTE}")
        line = line.str.replace_all(f"{closing} *({between}|$)", f"{QUOTE}${{1}}")
        if notation.quote[0] == notation.quote[-1]:
            line = line.str.replace_all(2 * notation.quote[0], notation.quote[0], literal=True)
    return lines.alias("line").to_frame().select(line)["line"]


def split_strictly(line: str, mark: str) -> Row | None:
    """The cells of one canonical line; None where its quotes are not in order. Quotes in cells are doubled, or all
    have a backslash."""
    if QUOTE not in line:
        return line.split(mark)
    for text in (line, line.replace("\\" + QUOTE, 2 * QUOTE)):
        try:
            return next(csv.reader([text], delimiter=mark, skipinitialspace=mark != " ", strict=True), [])
        except csv.Error:
            continue
    return None


def split(line: str, mark: str) -> Row:
    """The cells of one canonical line, whatever its quotes."""
    cells = split_strictly(line, mark)
    if cells is not None:
        return cells
    try:
        return next(csv.reader([line], delimiter=mark, skipinitialspace=mark != " "), [])
    except csv.Error:
        return line.split(mark)
