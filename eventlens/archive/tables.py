"""The tables of an archive: names, columns, partitions and the version of their form.

| Delta table | holds | partitioned by |
|---|---|---|
| `record` | events, rows set aside, the ledger: kind `event`, `set_aside`, `import` | machine, month, kind |
| `dumps` | the files themselves, in parts | machine, month of the first record |
| `entries` | what people wrote down: repairs, exchanged parts, ..., and the machine files | machine |
| `reviews` | a review for each ISO week, and what trends need of it | machine |
| `periods` | reviews of other periods: months, all there is, what somebody asked for | machine |

Months are `2026-04`, in UTC. The form's version stands in the description of each table.
"""

from __future__ import annotations

from typing import Final

import polars as pl

from eventlens.schema import TIME, WEEK_LIFE, WEEK_TIMES, WEEK_WORK, WEEKS, Column, Table

VERSION: Final = 1
"""Version of this form. An older archive opens: columns that it lacks are read as empty."""

EVENT: Final = "event"
SET_ASIDE: Final = "set_aside"
IMPORT: Final = "import"

_COUNT: Final = pl.Int64()
_TEXT: Final = pl.String()

RECORD: Final = Table(
    "record",
    {
        "machine": Column(_TEXT, "which machine"),
        "month": Column(_TEXT, "month in UTC, as 2026-04"),
        "kind": Column(_TEXT, "event, set_aside or import"),
        "file": Column(_TEXT, "SHA-256 of the dump"),
        "name": Column(_TEXT, "name of the file, or of the file in a packed one"),
        "line": Column(_COUNT, "event, set_aside: line in it", True),
        "place": Column(_COUNT, "event: place in the record of the month, from 0", True),
        "time": Column(TIME, "event: instant", True),
        "signal": Column(_TEXT, "event: which signal", True),
        "value": Column(pl.Float64(), "event: 1 on, 0 off, or the number in the signal's unit; null unknown", True),
        "segment": Column(_COUNT, "event: number of the unbroken stretch, from 0 in what was read together", True),
        "reason": Column(_TEXT, "set_aside: why", True),
        "text": Column(_TEXT, "set_aside: the row", True),
        "size": Column(_COUNT, "import: bytes of the dump", True),
        "modified_ns": Column(_COUNT, "import: when the dump was last written [ns since 1970]", True),
        "months": Column(_TEXT, "import: all months in which the dump has events, with blanks between", True),
        "home": Column(_TEXT, "import: month of its first record; its bytes and rows set aside lie there", True),
        "first": Column(TIME, "import: first record of the dump", True),
        "last": Column(TIME, "import: last record of the dump", True),
        "profile": Column(_TEXT, "import: name of the profile; null: none", True),
        "profile_sha256": Column(_TEXT, "import: its SHA-256", True),
        "profile_text": Column(_TEXT, "import: the profile itself", True),
        "rows": Column(_COUNT, "import: rows of the dump = taken + rejected + blank", True),
        "taken": Column(_COUNT, "import: rows that were understood", True),
        "rejected": Column(_COUNT, "import: rows set aside", True),
        "blank": Column(_COUNT, "import: blank rows", True),
        "repeated": Column(_COUNT, "import: rows that another dump of the month holds already", True),
        "events": Column(_COUNT, "import: event rows of this dump in this month", True),
        "set_aside": Column(_COUNT, "import: set_aside rows of this dump in this month", True),
        "who": Column(_TEXT, "import: who added it", True),
        "added": Column(TIME, "import: when", True),
    },
    sort=("machine", "month", "kind", "place"),
)

DUMPS: Final = Table(
    "dumps",
    {
        "machine": Column(_TEXT, "which machine"),
        "month": Column(_TEXT, "month of its first record"),
        "file": Column(_TEXT, "SHA-256 of the whole file"),
        "part": Column(_COUNT, "number of the part, from 0"),
        "parts": Column(_COUNT, "how many there are"),
        "data": Column(pl.Binary(), "its bytes"),
    },
    sort=("machine", "month", "file", "part"),
)

ENTRIES: Final = Table(
    "entries",
    {
        "machine": Column(_TEXT, "which machine"),
        "id": Column(_TEXT, "SHA-256 of what the entry says: the same entry twice is one entry"),
        "kind": Column(_TEXT, "what it is about, see entries.KINDS"),
        "at": Column(TIME, "since when it holds, or when it was", True),
        "text": Column(_TEXT, "as it was written"),
        "name": Column(_TEXT, "machine file: its name", True),
        "who": Column(_TEXT, "who wrote it"),
        "added": Column(TIME, "when"),
    },
    sort=("machine", "at", "added"),
)


def _rows_of(table: Table) -> pl.List:
    """A table as rows in one cell, in types that every engine knows; whose rows they are stands beside them."""
    plain = {pl.UInt32: pl.Int64(), pl.Int8: pl.Int64(), pl.Enum: pl.String()}
    inner = {n: plain.get(type(c.dtype), c.dtype) for n, c in table.columns.items() if n != "machine"}
    return pl.List(pl.Struct(inner))


WEEKLY: Final = {"counts": WEEKS, "times": WEEK_TIMES, "life": WEEK_LIFE, "work": WEEK_WORK}
"""Column of reviews -> table of weekly results that its cells hold rows of (the fields of trends.Weeks)."""

REVIEWS: Final = Table(
    "reviews",
    {
        "machine": Column(_TEXT, "which machine"),
        "week": Column(_TEXT, "ISO week in the zone of the log, as 2026-W16"),
        "start": Column(TIME, "its first instant"),
        "end": Column(TIME, "the first instant after it"),
        "key": Column(_TEXT, "SHA-256 of dumps, profile, machine file, entries, version: another key, another review"),
        "review": Column(_TEXT, "the review as JSON (contract 1)", True),
        "why": Column(_TEXT, "why there is none", True),
        "made": Column(TIME, "when"),
        "counts": Column(_rows_of(WEEKS), "counts and use of the week (schema.WEEKS)", True),
        "times": Column(_rows_of(WEEK_TIMES), "measured times of the week (schema.WEEK_TIMES)", True),
        "life": Column(_rows_of(WEEK_LIFE), "use of the safe working period by day (schema.WEEK_LIFE)", True),
        "work": Column(_rows_of(WEEK_WORK), "runs and work cycles, counted (schema.WEEK_WORK)", True),
    },
    sort=("machine", "week"),
)

PERIODS: Final = Table(
    "periods",
    {
        "machine": Column(_TEXT, "which machine"),
        "period": Column(_TEXT, "month as 2026-04 in the zone of the log, all, or FROM..TO as it was asked for"),
        "start": Column(TIME, "its first instant; null: from the first record on", True),
        "end": Column(TIME, "the first instant after it; null: to the last record", True),
        "key": REVIEWS.columns["key"],
        "review": REVIEWS.columns["review"],
        "why": REVIEWS.columns["why"],
        "made": REVIEWS.columns["made"],
    },
    sort=("machine", "period"),
)

PARTITIONS: Final = {
    RECORD.name: ("machine", "month", "kind"),
    DUMPS.name: ("machine", "month"),
    ENTRIES.name: ("machine",),
    REVIEWS.name: ("machine",),
    PERIODS.name: ("machine",),
}
STATISTICS: Final = {REVIEWS.name: "week", PERIODS.name: "period"}
"""By table the columns with statistics of each file, with commas between."""
TABLES: Final = {table.name: table for table in (RECORD, DUMPS, ENTRIES, REVIEWS, PERIODS)}


def fitted(frame: pl.DataFrame, table: Table) -> pl.DataFrame:
    """The frame with exactly the columns of a table; what it lacks is empty."""
    columns = table.columns.items()
    return frame.select(
        (pl.col(name).cast(column.dtype) if name in frame.columns else pl.lit(None, column.dtype)).alias(name)
        for name, column in columns
    )
