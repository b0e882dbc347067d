"""Names that stand again inside a table, as where exports were appended to each other: the rows below follow them.

time;tag;state
2026-03-02 06:00:00;K11;1
tag;state;time
K11;0;2026-03-02 06:00:05
"""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from eventlens.reading.coded import as_text, by_text, is_coded
from eventlens.reading.formats._header import looks_like_units
from eventlens.reading.raw import RawTable

Titles = tuple[str, ...]


def without_headers(raw: RawTable) -> RawTable:
    """The table without the rows that hold its names again, or units below these; all rows in its order of columns."""
    titles = _titles(raw)
    found = _standing_again(raw.frame, titles)
    if not found:
        return raw
    frame, names = as_text(raw.frame), raw.frame.columns
    units = {at + 1: () for at, row in found.items() if _is_units(frame, at + 1, row)}
    gone = sorted(found | units)
    begins = [0, *(at + 1 for at in gone)]
    kept: list[pl.DataFrame] = []
    order = titles
    for begin, end in zip(begins, [*gone, frame.height], strict=True):
        order = found.get(begin - 1, order)
        part = frame.slice(begin, end - begin)
        kept.append(part if order == titles else _in_order(part, order, titles).select(names))
    lines = raw.lines.gather(gone)
    rest = ~pl.int_range(frame.height, dtype=pl.UInt32, eager=True).is_in(gone)
    again = (*raw.headers_again, *lines.to_list())
    return replace(raw, frame=pl.concat(kept), lines=raw.lines.filter(rest), headers_again=again)


def _titles(raw: RawTable) -> Titles:
    """The names as the file has them, a cell for each column; "" for one that is missing."""
    dialect = raw.dialect
    if dialect and dialect.header_line and dialect.header and len(dialect.header[0]) == raw.frame.width:
        return dialect.header[dialect.header_line - dialect.first_line]
    made_up = [f"column_{at + 1}" for at in range(raw.frame.width)]
    return tuple("" if name == other else name for name, other in zip(raw.frame.columns, made_up, strict=True))


def _standing_again(frame: pl.DataFrame, titles: Titles) -> dict[int, Titles]:
    """Positions of the rows that hold all the names in some order, and only these."""
    names = {title for title in titles if title}
    if (
        not names
        or not frame.height
        or any(column.dtype != pl.String and not is_coded(column) for column in frame.iter_columns())
    ):
        return {}
    first = frame[:, 0]
    spelt = [text for name in names for text in (name, f" {name}", f"{name} ")]
    likely = by_text(first, lambda texts: texts.is_in(spelt))
    likely = (likely | first.is_null()) if "" in titles else likely
    if not likely.any():
        return {}
    odd = as_text(frame.with_row_index("", 0).filter(likely))
    odd = odd.filter(pl.all_horizontal(pl.exclude("").str.strip_chars().fill_null("").is_in([*names, ""])))
    rows = {at: tuple((cell or "").strip() for cell in row) for at, *row in odd.iter_rows()}
    return {at: row for at, row in rows.items() if sorted(row) == sorted(titles)}


def _is_units(frame: pl.DataFrame, at: int, names: Titles) -> bool:
    if at >= frame.height:
        return False
    return looks_like_units([cell or "" for cell in frame.row(at)], list(names))


def _in_order(part: pl.DataFrame, order: Titles, titles: Titles) -> pl.DataFrame:
    """Rows whose cells stand in another order, each column under the name that the table has for it."""
    left: dict[str, list[str]] = {}
    for name, title in zip(part.columns, titles, strict=True):
        left.setdefault(title, []).append(name)
    return part.rename(dict(zip(part.columns, [left[title].pop(0) for title in order], strict=True)))
