"""One file as it stands: its table, its rows, and what became of each of its lines."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

import polars as pl

from eventlens import schema
from eventlens.reading.assemble import raw_tables
from eventlens.reading.raw import Dialect, RawTable
from eventlens.reading.rows import LINE

KINDS: Final = ("preamble", "header", "row", "joined", "set aside", "blank")
ACCOUNTS: Final[dict[str, pl.DataType]] = {"line": pl.UInt32(), "kind": pl.Enum(KINDS), "reason": pl.String()}

Names = Literal["first", "found"]
"""How the columns get their names. `first`, the convention of raw tables: the first record of the table holds the names
and is not judged; rows of names directly below each other are one header, joined cell by cell with a blank.
`found`, as `read` and `inspect` do: where no row of names is found, every record is a row; names that stand again, and
units below them, are no part of the names."""


def read_table(path: str | Path, names: Names = "first") -> pl.DataFrame:
    """The raw table of a delimited file as text, dialect found without any setting (null: empty cell).

    names="first": the first record of the table names the columns, whatever it holds; rows of names directly below each
    other are joined cell by cell with a blank. A name that is missing stays empty; of equal names the second has one
    blank more at its end, the third two, so that no cell of a first record is changed but for blanks around it.
    names="found": names only where a row of names is found, taken once as in `read`; columns without one are
    column_1, column_2, ..., and the second 'x' is 'x_2'.
    Lines before the table are no records. A file without any record gives a table without columns. Rows that do not fit
    the table are left out here; `line_accounts` with the same `names` lists each of them. Other containers than
    delimited text bring their own names.
    """
    found = _read(Path(path), names)
    if found is None:
        return pl.DataFrame()
    frame = found.frame.drop(LINE)
    if names == "found":
        return frame
    if found.titles is None:
        return pl.DataFrame()
    return frame.rename(dict(zip(frame.columns, _kept_apart(found.titles), strict=True)))


def table_rows(path: str | Path, names: Names = "first") -> list[list[str | None]]:
    """The rows of `read_table` below its names as the file has them, if it has any: no name is made up or changed."""
    found = _read(Path(path), names)
    if found is None:
        return []
    head = [] if found.titles is None else [[title or None for title in found.titles]]
    return [*head, *(list(row) for row in found.frame.drop(LINE).iter_rows())]


def write_table(path: str | Path, target: Path) -> None:
    """Writes the table of a file with the names that `read` finds in it, as .parquet or else as CSV.

    Every record is a row. A CSV has names only if the file has some, as they stand there; Parquet cannot do without, so
    there columns without one are column_1, ...
    """
    found = _read(Path(path), "found")
    frame = pl.DataFrame() if found is None else found.frame.drop(LINE)
    if target.suffix.lower() == ".parquet":
        frame.write_parquet(target)
        return
    with target.open("w", encoding="utf-8", newline="") as file:
        if found is not None and found.titles is not None:
            csv.writer(file, lineterminator="\n").writerow(found.titles)
    with target.open("ab") as rows:
        frame.write_csv(rows, include_header=False)


def line_accounts(path: str | Path, names: Names = "first") -> pl.DataFrame:
    """What became of each line of the file: `line` (from 1), `kind`, `reason` (of lines that are set aside).

    Kinds: preamble (before the table), header (names, units, names again), row, joined (to the row before it),
    set aside, blank. Each line stands here once. `names` as in `read_table`.
    """
    found = _read(Path(path), names)
    if found is None:
        return pl.DataFrame(schema=ACCOUNTS)
    raw, line = found.raw, pl.col("line")
    lines = pl.DataFrame({"line": pl.int_range(1, raw.last_line + 1, dtype=schema.ROW, eager=True)})
    reasons = raw.rejected.select(line="row", reason="reason").unique("line", keep="first")
    kind = (
        pl.when(line.is_in(found.frame[LINE].implode()))
        .then(pl.lit("row"))
        .when(pl.col("reason").is_not_null())
        .then(pl.lit("set aside"))
        .when(line.is_in(found.header))
        .then(pl.lit("header"))
        .when(line < raw.first_line)
        .then(pl.lit("preamble"))
        .when(line.is_in(list(raw.joined)))
        .then(pl.lit("joined"))
        .otherwise(pl.lit("blank"))
    )
    table = lines.join(reasons, on="line", how="left", maintain_order="left").with_columns(kind=kind)
    return table.select(pl.col(name).cast(dtype) for name, dtype in ACCOUNTS.items())


@dataclass(frozen=True)
class _Table:
    """One file, read: its rows with their lines, without headers that stand again."""

    raw: RawTable
    frame: pl.DataFrame
    titles: tuple[str, ...] | None
    """Names as the file has them, "" where one is missing; None: it has none."""
    header: list[int]
    """Lines of names, of units, and of names that stand again."""


def _read(path: Path, names: Names) -> _Table | None:
    """The table with its names; None: an empty file."""
    if path.is_file() and not path.stat().st_size:
        return None
    raw = raw_tables(path)
    frame, dialect = raw.frame.with_columns(raw.lines.alias(LINE)), raw.dialect
    if dialect is None:
        return _Table(raw, frame, tuple(raw.frame.columns), list(range(1, raw.first_line)))
    if dialect.header_line is None:
        if names == "found" or not frame.height:
            return _Table(raw, frame, None, [])
        record = frame.drop(LINE).row(0)
        return _Table(raw, frame.slice(1), tuple(cell or "" for cell in record), [int(frame[LINE][0])])
    first = dialect.first_line - len(dialect.header) if names == "first" else dialect.header_line
    return _Table(raw, frame, _titles(dialect, names), [*range(first, dialect.first_line), *raw.headers_again])


def _titles(dialect: Dialect, names: Names) -> tuple[str, ...]:
    """The names of the columns: of all rows of the header joined, or of the one that was found to be the header."""
    own = dialect.header_line - dialect.first_line if dialect.header_line else 0  # counted from the end
    rows = dialect.header if names == "first" else dialect.header[own:][:1]
    joined = (" ".join(filter(None, cells)) for cells in zip(*rows, strict=True))
    return tuple(title for at, title in enumerate(joined) if at != dialect.fraction)


def _kept_apart(titles: tuple[str, ...]) -> list[str]:
    """The names made unique by blanks at their ends: a number there would change a first record that holds values."""
    found: dict[str, None] = {}
    for title in titles:
        name = title.rstrip(" ")
        while name in found:
            name += " "
        found[name] = None
    return list(found)
