"""The careful path: every physical line is looked at; good ones go through the fast parser, odd ones one by one."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from eventlens import schema
from eventlens.reading.formats._dialect import QUOTE, split
from eventlens.reading.formats._text import Text, offset_of_line
from eventlens.reading.raw import BAD_QUOTE, TOO_FEW, TOO_MANY, Dialect, set_aside

LONGEST_RECORD = 64
"""Lines that a quoted text may run over; more is taken for a quote that was never closed (common practice)."""


@dataclass(frozen=True)
class Rows:
    """Data rows with their physical lines, and what was not taken."""

    frame: pl.DataFrame
    lines: pl.Series
    rejected: pl.DataFrame
    blank: int


def read_carefully(text: Text, dialect: Dialect) -> Rows:
    """All data rows of the text: taken, set aside with line and reason, or blank."""
    lines = _unpadded(physical_lines(text, dialect.first_line), dialect.delimiter)
    good, blank = _sort_out(lines, dialect)
    number = pl.int_range(dialect.first_line, dialect.first_line + len(lines), dtype=pl.UInt32, eager=True)
    odd = (~(good | blank)).arg_true().to_list()
    taken, refused, absorbed = _read_odd(lines, odd, good, dialect)
    blank_count = int(blank.sum()) - sum(1 for at in absorbed if blank[at])
    parts = [_parse_good(lines.filter(good), dialect).with_columns(_line=number.filter(good))]
    if taken:
        cells = pl.DataFrame([row for _, row in taken], schema=dict.fromkeys(dialect.columns, pl.String), orient="row")
        at = number.gather([at for at, _ in taken])
        parts.append(cells.with_columns(pl.all().replace("", None)).with_columns(_line=at))
    frame = pl.concat(parts)
    if taken:
        frame = frame.sort("_line")
    rejected = schema.REJECTED.empty()
    for reason in (TOO_FEW, TOO_MANY, BAD_QUOTE):
        where = [at for at, why in refused if why == reason]
        if where:
            rejected = rejected.vstack(set_aside(number.gather(where), reason, lines.gather(where)))
    return Rows(frame.drop("_line"), frame["_line"], rejected.sort("row"), blank_count)


def physical_lines(text: Text, first_line: int) -> pl.Series:
    """The lines from `first_line` on, without their line ends; null where nothing stands."""
    if text.line_count < first_line:
        return pl.Series(dtype=pl.String)
    absent = next((chr(code) for code in (31, 30, 29, 28, 1, 2, 3, 4, 5, 6) if bytes([code]) not in text.data), None)
    if absent is None:
        data = text.data[offset_of_line(text.data, first_line) :].decode("utf-8", "replace")
        lines = pl.Series(data.split("\n"), dtype=pl.String)
        return (lines.head(-1) if text.ends_with_newline else lines).str.strip_chars_end("\r")
    frame = pl.read_csv(
        text.source,
        separator=absent,
        quote_char=None,
        has_header=False,
        skip_lines=first_line - 1,
        schema={"line": pl.String},
    )
    return frame["line"].str.strip_chars_end("\r").str.strip_prefix("\ufeff")


def _unpadded(lines: pl.Series, delimiter: str) -> pl.Series:
    """The lines without blanks between a delimiter and a quote that opens a cell."""
    padded = delimiter + " " + QUOTE
    if delimiter == " " or not lines.str.contains(padded, literal=True).any():
        return lines
    return lines.str.replace_all(f"({re.escape(delimiter)}) +{QUOTE}", f"${{1}}{QUOTE}")


def _sort_out(lines: pl.Series, dialect: Dialect) -> tuple[pl.Series, pl.Series]:
    """Which lines are good (the right number of cells, quotes closed), and which are blank."""
    delimiter, width = re.escape(dialect.delimiter), len(dialect.columns)
    cell = f'(?:"[^"]*"|[^"{delimiter}]*)'
    quoted = f"^{cell}(?:{delimiter}{cell}){{{width - 1}}}$"
    frame = lines.alias("line").to_frame().lazy()
    line = pl.col("line")
    plain = ~line.str.contains(QUOTE, literal=True)
    blank = line.is_null() | line.str.contains(f"^(?:\\s*|{delimiter}*)$")
    few = line.str.count_matches(dialect.delimiter, literal=True) == width - 1
    out = frame.select(
        good=(~blank & pl.when(plain).then(few).otherwise(line.str.contains(quoted))).fill_null(False),
        blank=blank.fill_null(True),
    ).collect()
    return out["good"], out["blank"]


def _parse_good(lines: pl.Series, dialect: Dialect) -> pl.DataFrame:
    schema_ = dict.fromkeys(dialect.columns, pl.String)
    if lines.is_empty():
        return pl.DataFrame(schema=schema_)
    data = lines.str.join("\n")[0].encode()
    return pl.read_csv(data, separator=dialect.delimiter, has_header=False, schema=schema_)


def _read_odd(
    lines: pl.Series, odd: Iterable[int], good: pl.Series, dialect: Dialect
) -> tuple[list[tuple[int, list[str]]], list[tuple[int, str]], set[int]]:
    """Rows taken from odd lines, lines refused with their reason, and lines that belong to a row begun before."""
    taken: list[tuple[int, list[str]]] = []
    refused: list[tuple[int, str]] = []
    absorbed: set[int] = set()
    width = len(dialect.columns)
    for at in odd:
        if at in absorbed:
            continue
        line = lines[at]
        if line.count(QUOTE) % 2:
            cells, last = _close_quote(lines, at, good, dialect)
            if cells is None:
                cells, last = line.split(dialect.delimiter), at  # a stray quote is part of the text
                if len(cells) != width:
                    refused.append((at, BAD_QUOTE))
                    continue
            absorbed.update(range(at + 1, last + 1))
        else:
            cells = split(line, dialect.delimiter)
        if len(cells) < width:
            refused.append((at, TOO_FEW))
        elif any(cell.strip() for cell in cells[width:]):
            refused.append((at, TOO_MANY))
        else:
            taken.append((at, cells[:width]))
    return taken, refused, absorbed


def _close_quote(lines: pl.Series, at: int, good: pl.Series, dialect: Dialect) -> tuple[list[str] | None, int]:
    """The cells of a record whose quoted text runs over several lines, and its last line; None if it is not one.

    A line that is a row in its own right is never swallowed.
    """
    joined = lines[at]
    for last in range(at + 1, min(at + LONGEST_RECORD, len(lines))):
        if good[last]:
            break
        joined += "\n" + (lines[last] or "")
        if joined.count(QUOTE) % 2 == 0:
            cells = _split_record(joined, dialect.delimiter)
            return (cells, last) if len(cells) == len(dialect.columns) else (None, at)
    return None, at


def _split_record(record: str, delimiter: str) -> list[str]:
    try:  # strict: text right after a closing quote shows that the quote closed nothing
        found = list(csv.reader(record.splitlines(keepends=True), delimiter=delimiter, strict=True))
        return found[0] if len(found) == 1 else []
    except csv.Error:
        return []
