"""How our tables are told to Delta Lake: columns, what commits note of them, and how files are written."""

from __future__ import annotations

from typing import Any, Final

import polars as pl
import pyarrow as pa

from eventlens.archive.tables import STATISTICS, VERSION

ROW_GROUP: Final = 1 << 16
"""Rows that are read together at least: so that two hours of a month are found without reading it whole."""


def described() -> str:
    """What a table says of itself, its form among it."""
    return f"eventlens archive, form {VERSION}"


def statistics(name: str) -> dict[str, str | None]:
    """Columns whose least and greatest value each commit notes, where not that of the first columns.

    A review among them would make the record of commits as large as the reviews, and that is read to open a table.
    """
    return {"delta.dataSkippingStatsColumns": columns} if (columns := STATISTICS.get(name)) else {}


def properties() -> Any:
    """How files are written."""
    from deltalake import WriterProperties

    return WriterProperties(compression="ZSTD", max_row_group_size=ROW_GROUP)


def arrow(dtype: Any) -> pa.DataType:
    """A type of ours as Arrow knows it."""
    if isinstance(dtype, pl.List):
        return pa.list_(arrow(dtype.inner))
    if isinstance(dtype, pl.Struct):
        return pa.struct([pa.field(field.name, arrow(field.dtype)) for field in dtype.fields])
    return {
        pl.String: pa.string(),
        pl.Int64: pa.int64(),
        pl.Float64: pa.float64(),
        pl.Binary: pa.binary(),
        pl.Datetime: pa.timestamp("us", "UTC"),
    }[type(dtype)]
