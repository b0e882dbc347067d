"""What containers share once their rows are read: blank rows out, plain types, one RawTable."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import polars as pl

from eventlens import schema
from eventlens.errors import ReadingError
from eventlens.reading.coded import as_text, coded, is_coded
from eventlens.reading.formats._bounds import check_width
from eventlens.reading.raw import RawTable


def whole_table(
    path: Path,
    name: str,
    frame: pl.DataFrame,
    *,
    lines: pl.Series | None = None,
    rejected: pl.DataFrame | None = None,
    blank: int = 0,
    first_line: int = 1,
    last_line: int | None = None,
    notes: tuple[str, ...] = (),
    sparse: bool = False,
    laid_down: bool = False,
) -> RawTable:
    """The raw table of a container: rows without any value are counted as blank, types become plain.

    `lines` are the rows' places in the container (default: 1, 2, ...), `blank` rows that were never in `frame`;
    `laid_down`: the frame lies in files.
    """
    if not frame.width:
        raise ReadingError("a table with columns", "none", "export the dump with its columns", file=path)
    check_width(frame.width, path)
    if lines is None:
        lines = pl.int_range(1, frame.height + 1, dtype=schema.ROW, eager=True)
    last = (int(lines[-1]) if len(lines) else 0) if last_line is None else last_line
    frame = plain_types(frame)
    if not frame.width:  # records without a single entry: no column is left to count them by
        blank, lines = blank + len(lines), lines.clear()
    empty = _all_empty(frame)
    if empty is not None and empty.any():
        blank += int(empty.sum())
        frame, lines = frame.filter(~empty), lines.filter(~empty)
        laid_down = False
    refused = schema.REJECTED.empty() if rejected is None else rejected.sort("row", maintain_order=True)
    return RawTable(
        path,
        name,
        frame,
        lines.cast(schema.ROW),
        refused,
        blank,
        first_line,
        last,
        None,
        notes,
        sparse,
        laid_down=laid_down,
    )


def _all_empty(frame: pl.DataFrame) -> pl.Series | None:
    """Rows without any value; None where a column shows at a glance that there is none."""
    if any(column.dtype != pl.String and not _may_be_empty(column) for column in frame.iter_columns()):
        return None
    frame = as_text(frame)
    return frame.select(empty=pl.all_horizontal(_is_empty(column) for column in frame.iter_columns()))["empty"]


def _may_be_empty(column: pl.Series) -> bool:
    """Whether a column that is no text has empty cells."""
    blank = isinstance(column.dtype, pl.Enum) and (column.dtype.categories.str.strip_chars() == "").any()
    return bool(column.null_count() or blank)


def _is_empty(column: pl.Series) -> pl.Expr:
    cell = pl.col(column.name)
    return cell.is_null() | (cell.str.strip_chars() == "") if column.dtype == pl.String else cell.is_null()


def plain_types(frame: pl.DataFrame, *, code: bool = True) -> pl.DataFrame:
    """Numbers, truth values, instants and texts (plain or coded) only.

    Nested records become columns `outer.inner`, the rest texts.
    Dates and times of day become texts too: a clock is often kept in two such columns.
    code: listed texts are coded; False for a piece of a table, whose texts are not all known yet.
    """
    while any(isinstance(dtype, pl.Struct) for dtype in frame.dtypes):
        columns = [part for column in frame.iter_columns() for part in _opened(column)]
        names = unique_names([column.name for column in columns])
        frame = pl.DataFrame([column.alias(name) for column, name in zip(columns, names, strict=True)])
    return frame.select(
        column if _is_listed(column) and not code else _plain(column) for column in frame.iter_columns()
    )


def _opened(column: pl.Series) -> list[pl.Series]:
    """The fields of a nested column, or the column itself."""
    if not isinstance(column.dtype, pl.Struct):
        return [column]
    return [field.alias(f"{column.name}.{field.name}") for field in column.struct.unnest().iter_columns()]


def unique_names(names: list[str]) -> list[str]:
    """The names without gaps and repeats: column_3 for a missing one, 'x_2' for the second 'x'."""
    found: dict[str, None] = {}
    for at, given in enumerate(names):
        base = given.strip() or f"column_{at + 1}"
        name, number = base, 2
        while name in found:
            name, number = f"{base}_{number}", number + 1
        found[name] = None
    return list(found)


def _is_listed(column: pl.Series) -> bool:
    return isinstance(column.dtype, pl.Categorical)


def _plain(column: pl.Series) -> pl.Series:
    dtype = column.dtype
    if dtype in (pl.String, pl.Boolean) or isinstance(dtype, pl.Datetime) or is_coded(column):
        return column
    if _is_listed(column):
        return coded(column)
    if isinstance(dtype, pl.Decimal):
        return column.cast(pl.String)
    if dtype.is_numeric() and dtype not in (pl.Int128, pl.UInt128):
        return column
    if dtype == pl.Null:
        return column.cast(pl.String)
    if dtype == pl.Binary:
        return column.bin.encode("hex")
    if dtype == pl.Time:  # a plain cast drops the fraction
        return column.dt.to_string("%H:%M:%S%.6f")
    if dtype == pl.Date:  # a cast panics at days of a year that no calendar has, as damage makes them
        real = column.is_between(date.min, date.max)
        return column.set(~real, None).cast(pl.String)
    if isinstance(dtype, pl.Duration):
        return column.dt.total_microseconds() / 1e6
    if isinstance(dtype, pl.List | pl.Array) or dtype == pl.Object:
        return pl.Series(column.name, [None if cell is None else str(cell) for cell in column.to_list()], pl.String)
    return column.cast(pl.String)
