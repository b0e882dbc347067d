"""One file as it stands: its table, its rows, and what became of each of its lines."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.reading.assemble import raw_tables
from eventlens.reading.raw import RawTable
from eventlens.reading.rows import LINE, take_out_headers

KINDS: Final = ("preamble", "header", "row", "joined", "set aside", "blank")
ACCOUNTS: Final[dict[str, pl.DataType]] = {"line": pl.UInt32(), "kind": pl.Enum(KINDS), "reason": pl.String()}


def read_table(path: str | Path) -> pl.DataFrame:
    """The raw table of a delimited file as text, dialect found without any setting (null: empty cell).

    Columns without a name in the file are column_1, column_2, ...; an empty file gives a table without columns.
    Rows that do not fit the table are left out here; `line_accounts` lists each of them.
    """
    found = _read(Path(path))
    return pl.DataFrame() if found is None else found[0].drop(LINE)


def table_rows(path: str | Path) -> list[list[str | None]]:
    """The rows of `read_table`, with the row of names first if the file has one."""
    found = _read(Path(path))
    if found is None:
        return []
    frame, raw, _ = found
    names = [] if raw.dialect and raw.dialect.header_line is None else [list(raw.frame.columns)]
    return [*names, *(list(row) for row in frame.drop(LINE).iter_rows())]


def line_accounts(path: str | Path) -> pl.DataFrame:
    """What became of each line of the file: `line` (from 1), `kind`, `reason` (of lines that are set aside).

    Kinds: preamble (before the table), header (names, units, names again), row, joined (to the row before it),
    set aside, blank. Each line stands here once.
    """
    found = _read(Path(path))
    if found is None:
        return pl.DataFrame(schema=ACCOUNTS)
    frame, raw, again = found
    header = raw.dialect.header_line if raw.dialect else None
    line = pl.col("line")
    lines = pl.DataFrame({"line": pl.int_range(1, raw.last_line + 1, dtype=schema.ROW, eager=True)})
    reasons = raw.rejected.select(line="row", reason="reason").unique("line", keep="first")
    kind = (
        pl.when(line.is_in(frame[LINE].implode()))
        .then(pl.lit("row"))
        .when(pl.col("reason").is_not_null())
        .then(pl.lit("set aside"))
        .when(line.is_in(list(again)) | (line.is_between(header or raw.first_line, raw.first_line - 1)))
        .then(pl.lit("header"))
        .when(line < raw.first_line)
        .then(pl.lit("preamble"))
        .when(line.is_in(list(raw.joined)))
        .then(pl.lit("joined"))
        .otherwise(pl.lit("blank"))
    )
    table = lines.join(reasons, on="line", how="left", maintain_order="left").with_columns(kind=kind)
    return table.select(pl.col(name).cast(dtype) for name, dtype in ACCOUNTS.items())


def _read(path: Path) -> tuple[pl.DataFrame, RawTable, tuple[int, ...]] | None:
    """The rows with their lines, without headers that stand again; the raw table; these headers. None: nothing."""
    if path.is_file() and not path.stat().st_size:
        return None
    raw = raw_tables(path)
    frame = raw.frame.with_columns(raw.lines.alias(LINE))
    if raw.dialect is None or raw.dialect.header_line is None or not frame.height:
        return frame, raw, ()
    anywhere = pl.repeat(True, frame.height, dtype=pl.Boolean, eager=True)
    frame, again = take_out_headers(frame, anywhere, frame.columns[0], [0])
    return frame, raw, again
