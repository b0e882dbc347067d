"""Spreadsheets: xlsx, xlsb, xls, ods. One sheet, a header row, a row for each record.

    Shift book of hoist 1        (merged title, any number of lines)

    Date        | Time     | Tag | State
    2026-03-02  | 06:00:00 | K11 | 1

All cells become texts: numbers to nine decimals, dates as `2026-03-02`, times of day as `06:00:00`, both together as
`2026-03-02 06:00:00.120`. A cell that shows an error is empty. `row` is the row of the sheet, from 1. The sheet is the
one that the profile names, else the one that looks most like a log (said in the notes).
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.errors import ReadingError, nearest
from eventlens.reading.clock import read_clock
from eventlens.reading.formats._header import find_header, looks_like_units, names_of, usual_width
from eventlens.reading.formats._packed import document_parts
from eventlens.reading.formats._sheet_area import check_area
from eventlens.reading.formats._sheet_cells import Book, SeparateBook, is_open_document
from eventlens.reading.formats._table import unique_names, whole_table
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "spreadsheet"
_ZIP: Final = b"PK\x03\x04"
_OLD: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_PARTS: Final = ("xl/workbook.xml", "xl/workbook.bin")
_OPEN_DOCUMENT: Final = b"application/vnd.oasis.opendocument.spreadsheet"
_HEAD: Final = 1000
"""Rows among which the header is looked for."""
_SAMPLE: Final = 400
_MIDNIGHT: Final = r"^\d{4}-\d\d-\d\d 00:00:00(?:\.0+)?$"
_DAY_ZERO: Final = r"^1899-12-3[01] "
"""The day on which a time of day without a date falls."""


def sniff(path: Path, head: bytes) -> bool:
    """A workbook by what its archive holds, or the mark of the older kind."""
    if head.startswith(_OLD):
        return True
    if not head.startswith(_ZIP):
        return False
    try:
        with zipfile.ZipFile(path) as archive:
            names = set(archive.namelist())
    except Exception:  # a damaged archive: a workbook if it begins like one
        return b"[Content_Types].xml" in head or _OPEN_DOCUMENT in head
    return any(part in names for part in _PARTS) or is_open_document(path)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The table in the sheet as texts."""
    with path.open("rb") as file:
        zipped = file.read(len(_ZIP)) == _ZIP
    sizes_known = False
    if zipped:
        parts: set[str] = set()
        check_area(_noted(document_parts(path), parts), path)
        sizes_known = _PARTS[0] in parts
    with TemporaryDirectory(prefix="eventlens-", ignore_cleanup_errors=True) as folder:
        book = Book(path) if sizes_known else SeparateBook(path, Path(folder))
        cells, notes = _choose(book, profile)
    frame, first = _cut(cells, profile, path)
    lines = pl.int_range(first, cells.height + 1, dtype=schema.ROW, eager=True)
    return whole_table(
        path,
        NAME,
        frame.select(_dates(column) for column in frame.iter_columns()),
        lines=lines,
        first_line=first,
        last_line=max(cells.height, first),
        notes=notes,
    )


def _noted(parts: Iterable[tuple[str, bytes]], names: set[str]) -> Iterator[tuple[str, bytes]]:
    """The parts as they come; their names are kept."""
    for name, piece in parts:
        names.add(name)
        yield name, piece


def _choose(book: Book | SeparateBook, profile: Profile) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """The cells of the sheet, and notes."""
    stated = profile.log.sheet
    if stated is not None:
        if stated not in book.sheets:
            got = ", ".join(f"'{name}'" for name in book.sheets[:20])
            raise ReadingError(
                f"the sheet '{stated}' ([log] sheet of the profile)", got, nearest(stated, book.sheets), file=book.path
            )
        return _filled(book, stated), ()
    if len(book.sheets) == 1:
        return _filled(book, book.sheets[0]), ()
    looks = {name: _looks_like_a_log(book, name) for name in book.sheets}
    if not looks:
        raise ReadingError("a sheet with rows", "no sheet", "save the spreadsheet again", file=book.path)
    best = max(book.sheets, key=lambda name: looks[name])
    others = ", ".join(f"'{name}'" for name in book.sheets if name != best)
    note = f"Sheet '{best}' was read, not {others[:300]} ([log] sheet chooses)."
    return _filled(book, best), (note,)


def _filled(book: Book | SeparateBook, sheet: str) -> pl.DataFrame:
    cells = book.cells(sheet)
    if not cells.height:
        raise ReadingError(
            "a sheet with rows", f"'{sheet}' without any", "name another one in [log] sheet", file=book.path
        )
    return cells


def _looks_like_a_log(book: Book | SeparateBook, sheet: str) -> tuple[int, int, int]:
    """How many columns hold stamps (at most one counts), rows with a stamp in a sample, rows of the sheet."""
    try:
        cells = book.cells(sheet)
    except ReadingError:  # a sheet of charts only
        return 0, 0, 0
    best = 0
    for column in cells.head(_SAMPLE).iter_columns():
        stamps = read_clock([column])
        if stamps is not None:
            best = max(best, len(column) - stamps.time.null_count())
    return int(best > 1), best, cells.height


def _cut(cells: pl.DataFrame, profile: Profile, path: Path) -> tuple[pl.DataFrame, int]:
    """The table below its header, and the row of the sheet on which its data begin."""
    used = [name for name in cells.columns if cells[name].null_count() < cells.height]
    head = cells.head(_HEAD).select(used).rows()
    rows = [_trimmed(["" if cell is None else str(cell) for cell in row]) for row in head]
    header = find_header(rows, profile, str(path))
    if header is None:
        width = usual_width(rows)
        start = next((at for at, row in enumerate(rows) if len(row) == width), 0)
        frame = cells.select(used).slice(start)
        names, first = unique_names([""] * len(used)), start + 1
    else:
        own = names_of(rows, header)
        wide = [*own, *[""] * (len(used) - len(own))]
        units = header + 1 < len(rows) and looks_like_units(rows[header + 1], rows[header])
        names, first = unique_names(wide), header + 2 + units
        frame = cells.select(used).slice(first - 1)
    frame = frame.rename(dict(zip(used, names, strict=True)))
    empty = [
        name
        for at, name in enumerate(names)
        if frame[name].null_count() == frame.height and (header is None or not wide[at].strip())
    ]
    return frame.drop(empty) if len(empty) < frame.width else frame, first


def _trimmed(row: list[str]) -> list[str]:
    while row and not row[-1].strip():
        row = row[:-1]
    return row


def _dates(column: pl.Series) -> pl.Series:
    """Dates without their midnight, times of day without the day zero, where the whole column is so."""
    known = column.drop_nulls()
    if known.is_empty():
        return column
    if known.str.contains(_MIDNIGHT).all() and not known.str.contains(_DAY_ZERO).any():
        return column.str.slice(0, 10)
    if 2 * int(known.str.contains(_DAY_ZERO).sum()) > len(known):
        return column.str.replace(_DAY_ZERO, "")
    return column
