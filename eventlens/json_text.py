"""JSON text of plain values with long tables in them.

The text is that of Python's json module, character by character. A table is an array with an object for each row; it is
written column by column, so that a review with ten thousands of occurrences takes no step of Python for each.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any, Final
from zoneinfo import ZoneInfo

import polars as pl


def text(content: Mapping[str, Any], indent: int | None) -> str:
    """The content as JSON; indent: as of json.dumps. Tables are Polars frames anywhere in it, whose columns hold texts,
    whole numbers, lists of whole numbers, and floats, which are written as by `number`. ValueError for what is not
    finite.
    """
    return _text(content, _Layout(indent))


_PLAIN: Final = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


@dataclass(frozen=True)
class _Layout:
    """Where lines are broken around what stands at one depth."""

    indent: int | None
    depth: int = 0

    @cached_property
    def line(self) -> str:
        """What begins a line."""
        return "" if self.indent is None else "\n" + " " * (self.indent * self.depth)

    @cached_property
    def comma(self) -> str:
        """What parts two items, each on a line."""
        return (", " if self.indent is None else ",") + self.line

    @cached_property
    def within(self) -> _Layout:
        """A step deeper."""
        return _Layout(self.indent, self.depth + 1)


def _text(value: Any, layout: _Layout) -> str:
    inner = layout.within
    if isinstance(value, pl.DataFrame):
        return _array(value, layout)
    if isinstance(value, Mapping) and value:
        items = [f"{_PLAIN(name)}: {_text(item, inner)}" for name, item in value.items()]
        return f"{{{inner.line}{inner.comma.join(items)}{layout.line}}}"
    if isinstance(value, list | tuple) and value:
        return f"[{inner.line}{inner.comma.join([_text(item, inner) for item in value])}{layout.line}]"
    return _PLAIN(value)


def _array(table: pl.DataFrame, layout: _Layout) -> str:
    """An array with an object for each row of the table."""
    if table.is_empty():
        return "[]"
    each, inner = layout.within, layout.within.within
    parts: list[pl.Expr] = []
    for column in table:
        begin = inner.comma if parts else "{" + inner.line
        parts += [pl.lit(f"{begin}{_PLAIN(column.name)}: "), _value(column, inner)]
    rows = table.select(pl.concat_str(*parts, pl.lit(each.line + "}")).str.join(each.comma))
    return f"[{each.line}{rows.item()}{layout.line}]"


def _value(column: pl.Series, layout: _Layout) -> pl.Expr:
    """The JSON text of each value of a column."""
    value = pl.col(column.name)
    if isinstance(column.dtype, pl.List):
        inner = layout.within
        items = value.cast(pl.List(pl.String)).list.join(inner.comma)
        full = pl.format(f"[{inner.line}{{}}{layout.line}]", items)
        none = pl.when(value.is_null()).then(pl.lit("null")).otherwise(pl.lit("[]"))
        return pl.when(value.list.len() > 0).then(full).otherwise(none)
    if column.dtype.is_float():
        known = column.drop_nulls().unique()  # each different number is written once
        texts = json.dumps([number(one) for one in known], allow_nan=False)[1:-1].split(", ")[: len(known)]
        return value.replace_strict(known, texts, default="null", return_dtype=pl.String)
    if column.dtype.is_integer():
        return value.cast(pl.String).fill_null("null")
    named = pl.struct(value.cast(pl.String).alias("")).struct.json_encode()
    return named.str.slice(len('{"":')).str.strip_suffix("}")


def number(value: float | None) -> float | int | None:
    """A number to nine significant places after the point at most: what the log can carry, without binary dust."""
    if value is None:
        return None
    rounded = round(float(value), 9)
    return int(rounded) if rounded.is_integer() else rounded


def stamp(instant: datetime, zone: ZoneInfo) -> str:
    """An instant as RFC 3339 with offset, to the millisecond or, where the log is finer, the microsecond."""
    local = instant.astimezone(zone)
    return local.isoformat(timespec="microseconds" if local.microsecond % 1000 else "milliseconds")


def stamps(column: str, zone: ZoneInfo) -> pl.Expr:
    """`stamp` of each instant of a column (where offsets are whole minutes, as everywhere since 1972)."""
    local = pl.col(column).dt.convert_time_zone(str(zone))
    fine = local.dt.microsecond() % 1000 != 0
    return pl.when(fine).then(local.dt.strftime("%FT%T%.6f%:z")).otherwise(local.dt.strftime("%FT%T%.3f%:z"))
