"""How our tables are told to Delta Lake: columns, what commits note of them, and how files are written."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import polars as pl
import pyarrow as pa

from eventlens.archive.tables import DUMPS, PERIODS, RECORD, REVIEWS, STATISTICS, VERSION
from eventlens.schema import Table

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


_RISING: Final = {RECORD.name: ("line", "place", "time")}
"""By table the columns in which each number is a little more than the one before: the steps are kept. It takes a sixth
of the room, and less time, than the list of all numbers that is kept otherwise (measured, ten million events)."""
_LONG: Final = {DUMPS.name: ("data",), REVIEWS.name: ("review",), PERIODS.name: ("review",)}
"""By table the columns with long cells, no two alike. Their least and greatest would be kept beside them in full length
and not compressed, which for one dump of one part is the dump twice over."""


def properties(name: str) -> Any:
    """How files of a table are written."""
    from deltalake import ColumnProperties, WriterProperties

    rising = ColumnProperties(dictionary_enabled=False, encoding="DELTA_BINARY_PACKED")
    long = ColumnProperties(dictionary_enabled=False, statistics_enabled="NONE")
    columns = dict.fromkeys(_RISING.get(name, ()), rising) | dict.fromkeys(_LONG.get(name, ()), long)
    return WriterProperties(compression="ZSTD", max_row_group_size=ROW_GROUP, column_properties=columns or None)


def streamed(frames: Iterable[pl.DataFrame], table: Table) -> pa.RecordBatchReader:
    """Rows of a table, made as they are written: what is written stands in memory a frame at a time."""
    schema = pa.schema([pa.field(name, arrow(column.dtype)) for name, column in table.columns.items()])
    batches = (batch for frame in frames for batch in frame.to_arrow().cast(schema).to_batches())
    return pa.RecordBatchReader.from_batches(schema, batches)


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
