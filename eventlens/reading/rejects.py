"""Rows that were set aside, each with the file and the line in which it stands."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import polars as pl

from eventlens.errors import ReadingError

_FORMULA: Final = r"^\s*[=+\-@|]|^[\t\r]"
"""How a cell begins that a spreadsheet might run."""


def rejects(rejected: pl.DataFrame, names: Sequence[str], firsts: Sequence[int], lines: Sequence[int]) -> pl.DataFrame:
    """file, line, reason, text of each row of schema.REJECTED.

    Of each file its name, the line of the log of its first data line, and that line in the file itself.
    """
    files = pl.DataFrame(
        {"file": list(names), "first": list(firsts), "line": list(lines)},
        schema={"file": pl.String, "first": pl.Int64, "line": pl.Int64},
    ).sort("first", maintain_order=True)
    row = rejected["row"].cast(pl.Int64)
    at = (files["first"].search_sorted(row, side="right").cast(pl.Int64) - 1).clip(0)
    return pl.DataFrame(
        {
            "file": files["file"].gather(at),
            "line": row - files["first"].gather(at) + files["line"].gather(at),
            "reason": rejected["reason"],
            "text": rejected["text"],
        }
    )


def to_csv(rows: pl.DataFrame) -> str:
    """The rows as comma-separated text. Texts that a spreadsheet might take for a formula begin with an apostrophe."""
    return harmless(rows).write_csv()


def harmless(rows: pl.DataFrame) -> pl.DataFrame:
    """The rows with an apostrophe before each text that a spreadsheet might take for a formula."""
    text = pl.col(pl.String).str.replace_all("\x00", "")
    return rows.with_columns(pl.when(text.str.contains(_FORMULA)).then(pl.lit("'") + text).otherwise(text).name.keep())


def none_allowed(rows: pl.DataFrame) -> None:
    """ReadingError at the first of the rows."""
    if rows.is_empty():
        return
    file, line, reason, text = rows.row(0)
    raise ReadingError(
        "every row to be understood",
        f"'{text[:60]}' ({reason})",
        "correct the row or the profile, or leave --strict out: the row is then set aside and counted",
        file=file,
        line=line,
    )
