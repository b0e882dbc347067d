"""Delimited text: a row of names, then a line for each record. The dialect is found from the file.

    Time;Tag;State
    2026-03-02 06:00:00.120;K11;1
    2026-03-02 06:00:00.480;K11;0

Plain files (no quotes, every line as many cells as the header) are parsed in one pass. Every other file takes the
careful path: good lines still go through the fast parser, the odd ones are read one by one and taken or set aside.
"""

from __future__ import annotations

import mmap
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.reading.coded import coded, repeat, while_parsing
from eventlens.reading.formats import HEAD_BYTES
from eventlens.reading.formats._bounds import LONGEST_CELL, check_width
from eventlens.reading.formats._dialect import find_dialect
from eventlens.reading.formats._lines import Rows, read_carefully
from eventlens.reading.formats._notation import is_plain
from eventlens.reading.formats._stack import MOST_COLUMNS, NoRoomError, Stack
from eventlens.reading.formats._text import (
    Text,
    count_byte,
    give_back,
    is_text,
    last_line_note,
    offset_of_line,
    open_text,
)
from eventlens.reading.profile import Profile
from eventlens.reading.raw import Dialect, RawTable
from eventlens.threads import in_threads

NAME = "delimited text"
LAST = True
LONG: Final = 1 << 29
"""Texts of fewer bytes are read at once: 512 MiB, some ten million rows. What files cost in time is not worth it there
(measured: tests.benchmarks.beside)."""
PIECE: Final = 1 << 26
"""Of a longer one so many bytes are read at once, or a line more: some million rows (common practice)."""
SAMPLE: Final = 1000
"""Lines from all over the text by which columns of few different texts are told (common practice)."""

Types = Mapping[str, pl.DataType]


def sniff(path: Path, head: bytes) -> bool:
    """Any text."""
    return is_text(head)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The table in the file, all cells as text."""
    text = open_text(path, profile.log.encoding)
    dialect = find_dialect(
        text.head(4 * HEAD_BYTES),
        profile,
        like.dialect if like else None,
        path=path,
        encoding=text.encoding,
    )
    check_width(len(dialect.columns), path)
    rows = _read_plain(text, dialect) or read_carefully(text, dialect)
    rows = _join_fraction(rows, dialect)
    return RawTable(
        path,
        NAME,
        rows.frame,
        rows.lines,
        rows.rejected,
        rows.blank,
        dialect.first_line,
        text.line_count,
        dialect,
        (*text.notes, *_head_note(dialect), *rows.notes, *last_line_note(text)),
        joined=rows.joined,
        laid_down=rows.laid_down,
    )


def _read_plain(text: Text, dialect: Dialect) -> Rows | None:
    """All rows by the fast parser, or None where anything is out of the ordinary.

    The parser fills short rows up without a word and refuses long ones, so counting the delimiters proves that there
    is no short row. A long text is read piece by piece and what was read is laid down: memory holds one piece.
    """
    if text.has_quote or text.line_count < dialect.first_line or not is_plain(dialect.written):
        return None
    begin = offset_of_line(text.data, dialect.first_line)
    rows, width = text.line_count - dialect.first_line + 1, len(dialect.columns)
    if count_byte(text.data, dialect.delimiter.encode(), begin) != (width - 1) * rows:
        return None
    types, plain = _types(text.data, begin, dialect), dict.fromkeys(dialect.columns, pl.String())
    try:
        cuts = _cuts(text.data, begin, width)
        found = _rows_of(text, dialect, cuts, types) or _rows_of(text, dialect, cuts, plain)
    except NoRoomError:
        found = _rows_of(text, dialect, [begin, len(text.data)], plain)
    return found if found is not None and found.frame.height + found.blank == rows else None


def _cuts(data: bytes | mmap.mmap, begin: int, width: int) -> list[int]:
    """Where the pieces of the text begin and where the last one ends: at ends of lines, and never before a blank one,
    which the parser passes over where it comes first."""
    cuts = [begin]
    if len(data) <= LONG or width > MOST_COLUMNS:
        return [begin, len(data)]
    while len(data) - cuts[-1] > PIECE:
        cut = data.find(b"\n", cuts[-1] + PIECE)
        while 0 <= cut < len(data) and data[cut : cut + 1] in (b"\n", b"\r"):
            cut += 1
        if not 0 <= cut < len(data):
            break
        cuts.append(cut)
    return [*cuts, len(data)]


def _types(data: bytes | mmap.mmap, begin: int, dialect: Dialect) -> Types:
    """Text for each column; listed texts where those of a sample come again and again."""
    step = max((len(data) - begin) // SAMPLE, 1)
    starts = {data.find(b"\n", at) + 1 for at in range(begin, len(data), step)} - {0, len(data)}
    ends = {at: data.find(b"\n", at) for at in starts}
    delimiter = dialect.delimiter.encode()
    rows = [data[at : end if end >= 0 else None].rstrip(b"\r").split(delimiter) for at, end in ends.items()]
    few = [repeat(cells) for cells in zip(*rows, strict=False)] if rows else []
    listed = while_parsing()
    return {name: listed if at < len(few) and few[at] else pl.String() for at, name in enumerate(dialect.columns)}


def _rows_of(text: Text, dialect: Dialect, cuts: Sequence[int], types: Types) -> Rows | None:
    """The rows of all pieces of the text; None where the parser refuses one."""
    line = dialect.first_line
    lines: list[pl.Series] = []
    with Stack(dialect.columns) as stack:
        for begin, end in pairwise(cuts):
            whole = len(cuts) == 2
            frame = _parsed(text.source if whole else text.data[begin:end], dialect, types, whole=whole)
            give_back(text.data)
            if frame is None:
                return None
            number = pl.int_range(line, line + frame.height, dtype=pl.UInt32, eager=True)
            line += frame.height
            if (empty := _all_empty(frame)) is not None:
                frame, number = frame.filter(~empty), number.filter(~empty)
            stack.add(frame)
            lines.append(number)
        number = pl.concat(lines, rechunk=True)
        finished = _finished(stack.whole())
        if finished is None:
            return None
        blank = line - dialect.first_line - len(number)
        return Rows(finished, number, schema.REJECTED.empty(), blank, laid_down=len(cuts) > 2)


def _parsed(source: Path | bytes, dialect: Dialect, types: Types, *, whole: bool) -> pl.DataFrame | None:
    """The cells of a piece; whole: it is all of the text, with its head. None where the parser refuses it."""
    try:
        frame = pl.read_csv(
            source,
            separator=dialect.delimiter,
            quote_char=None,
            has_header=False,
            skip_lines=dialect.first_line - 1 if whole else 0,
            schema=dict(types),
        )
    except pl.exceptions.PolarsError:
        return None
    return frame if _is_bounded(frame.select(pl.col(pl.String)).get_columns()) else None


def _is_bounded(texts: Sequence[pl.Series]) -> bool:
    """Whether no cell is too long for a record."""
    return not any((column.str.len_bytes() > LONGEST_CELL).any() for column in texts)


def _finished(frame: pl.DataFrame) -> pl.DataFrame | None:
    """The table with its listed columns coded; None where a text is too long for a record.

    Each column is in one piece, else whatever joins a column to it does so at many times the cost.
    """
    height, parts = frame.height, {name: frame.drop_in_place(name) for name in frame.columns}

    def finish(name: str) -> pl.Series:
        column = parts.pop(name)  # what it was before goes at once
        return column.rechunk() if column.dtype == pl.String else coded(column)

    columns = in_threads(finish, list(parts), height)
    lists = [column.dtype.categories for column in columns if isinstance(column.dtype, pl.Enum)]
    return pl.DataFrame(columns) if _is_bounded(lists) else None


def _all_empty(frame: pl.DataFrame) -> pl.Series | None:
    """Rows without any text, or None if there is none."""
    if any(not column.null_count() for column in frame.iter_columns()):
        return None
    blank = frame.select(blank=pl.all_horizontal(pl.all().is_null()))["blank"]
    return blank if blank.any() else None


def _join_fraction(rows: Rows, dialect: Dialect) -> Rows:
    """Puts a stamp together whose decimal comma was taken for a delimiter."""
    if dialect.fraction is None:
        return rows
    whole, fraction = dialect.columns[dialect.fraction - 1], dialect.columns[dialect.fraction]
    parts = [pl.col(name).cast(pl.String) for name in (whole, fraction)]
    frame = rows.frame.with_columns(pl.concat_str(parts, separator=dialect.joint).alias(whole)).drop(fraction)
    return replace(rows, frame=frame, laid_down=False)


def _head_note(dialect: Dialect) -> tuple[str, ...]:
    """Says which lines before the data are no rows, where it is more than the names."""
    header, first = dialect.header_line, dialect.first_line
    before = (header or first) - 1 - dialect.groups
    notes = []
    if before:
        notes.append("Line 1 stands" if before == 1 else f"Lines 1 to {before} stand")
        notes[-1] += " before the table and is no row." if before == 1 else " before the table and are no rows."
    if header and first > header + 1:
        notes.append(f"Units or the header again stand below the column names: the rows begin in line {first}.")
    return tuple(notes)
