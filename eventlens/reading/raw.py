"""What a format hands on: the table as it stands in the container, and where each row stood."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import polars as pl

from eventlens import schema

TOO_FEW: Final = "fewer columns than the table has"
TOO_MANY: Final = "more columns than the table has"
BAD_QUOTE: Final = "quote is not closed"
TOO_LONG: Final = "line or cell too long for a record"
OTHER_TABLE: Final = "line of another table in the file"
BAD_STAMP: Final = "time stamp not understood"
NO_SUCH_HOUR: Final = "local time that the zone leaves out (clocks go forward)"
BAD_VALUE: Final = "value not understood"

TEXT_KEPT: Final = 200
"""Characters of a row that is set aside which are kept (written in schema.REJECTED)."""


@dataclass(frozen=True)
class Notation:
    """How the cells of a line are kept apart."""

    delimiter: str
    """One character or several."""
    quote: str = '"'
    """Marks around a quoted cell: one for both ends, or an opening and a closing one."""
    runs: bool = False
    """Any number of blanks and tabs is one delimiter; with the delimiter of two blanks, two or more are."""
    starts: tuple[int, ...] = ()
    """Columns of fixed width: the characters at which they begin."""


@dataclass(frozen=True)
class Dialect:
    """How a delimited text is written."""

    delimiter: str
    columns: tuple[str, ...]
    """Names by position; unnamed ones are column_1, column_2, ..."""
    header_line: int | None
    """Physical line of the column names, from 1."""
    first_line: int
    """Physical line of the first data line."""
    fraction: int | None = None
    """Position of a column that holds the fraction of the stamp before it (decimal comma in a comma-separated file)."""
    encoding: str = "utf-8"
    joint: str = "."
    """What stands between the stamp and its fraction; a blank where a date and its time of day are put together."""
    notation: Notation | None = None
    """None: the delimiter and double quotes."""
    header: tuple[tuple[str, ...], ...] = ()
    """Rows of names directly below each other, down to the first data line: a cell for each column, as they stand."""
    groups: bool = False
    """The row above the names holds groups of columns, and the names begin with these."""

    @property
    def written(self) -> Notation:
        """How the cells are kept apart."""
        return self.notation or Notation(self.delimiter)


@dataclass(frozen=True)
class RawTable:
    """One file as a table. Lines count from 1; every data row is in `frame`, in `rejected` or counted in `blank`."""

    path: Path
    container: str
    """Name of the format."""
    frame: pl.DataFrame
    """One column for each column of the file: text (null = empty cell), which may be coded (see `coded`); native types
    where the container has them."""
    lines: pl.Series
    """UInt32, physical line of each row of `frame`."""
    rejected: pl.DataFrame
    """schema.REJECTED: rows that the format itself set aside."""
    blank: int
    first_line: int
    """Physical line of the first data line."""
    last_line: int
    """Physical line of the last line of the file, whatever it holds."""
    dialect: Dialect | None = None
    notes: tuple[str, ...] = ()
    sparse: bool = False
    """Records name their cells themselves: a column that is missing in one file has empty cells there."""
    headers_again: tuple[int, ...] = ()
    """Lines inside the table that hold its names again, or units below these; they are no data rows."""
    joined: tuple[int, ...] = ()
    """Lines that belong to a row begun in a line before: quoted line breaks, continuations."""
    laid_down: bool = False
    """The table lies in files already (see `spill`)."""
    sha256: str = ""
    """Of the file that the user named; whoever calls a format fills it in."""

    @property
    def rows(self) -> int:
        """Data rows of the file."""
        return self.frame.height + self.rejected.height + self.blank


def set_aside(rows: pl.Series, reason: str, text: pl.Series) -> pl.DataFrame:
    """schema.REJECTED for some rows that share a reason."""
    frame = pl.DataFrame({"row": rows.cast(schema.ROW), "text": text.cast(pl.String).fill_null("")})
    return frame.select("row", reason=pl.lit(reason), text=pl.col("text").str.slice(0, TEXT_KEPT))


def row_text(frame: pl.DataFrame, delimiter: str | None) -> pl.Series:
    """The rows of a table as one text each, as near to the file as the table allows."""
    cells = [pl.col(name).cast(pl.String).fill_null("") for name in frame.columns]
    return frame.select(text=pl.concat_str(cells, separator=delimiter or ";"))["text"]
