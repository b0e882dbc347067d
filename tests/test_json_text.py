"""Tables in JSON: written by columns, and the same characters as Python's json module writes of their rows."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest

from eventlens import schema
from eventlens.json_text import number, stamp, stamps, text

ODD = ['a"b', "back\\slash", "\x00\x1f\x7f\u2028 é😀\t\n\r\b\f/", "", None, "null", "plain"]
ROWS: list[dict[str, Any]] = [
    {
        "why": ODD[n % len(ODD)],
        "signal": [None, "hoist.raise.limit"][n % 2],
        "measured": [0.1 + 0.2, None, 3.0, -0.0, 1e-7, 12345678.123456, 2.5e17, 0.1 + 0.2][n % 8],
        "rows": [[], [3], [10, 11, 12], None][n % 4],
        "count": [7, None, -1][n % 3],
        "empty": None,
    }
    for n in range(60)
]
TABLE = pl.DataFrame(
    ROWS,
    schema={
        "why": pl.String,
        "signal": schema.SIGNAL,
        "measured": pl.Float64,
        "rows": pl.List(pl.UInt32),
        "count": pl.Int64,
        "empty": pl.Float64,
    },
)
"""Every kind of column with every kind of value, in all combinations."""


@pytest.mark.parametrize("indent", [None, 0, 1, 2, 4])
@pytest.mark.parametrize("height", [0, 1, 60])
def test_a_table_is_written_as_its_rows_are(indent: int | None, height: int) -> None:
    rows = [{**row, "measured": number(row["measured"])} for row in ROWS[:height]]

    def content(table: Any) -> dict[str, Any]:
        return {"first": table, "in": [{"deep": {"er": table}}, 1], "beside": 'deep": [', "last": table}

    assert text(content(TABLE.head(height)), indent) == json.dumps(content(rows), indent=indent, ensure_ascii=False)


@pytest.mark.parametrize("wrong", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(wrong: float) -> None:
    with pytest.raises(ValueError, match="JSON"):
        text({"table": pl.DataFrame({"measured": [1.0, wrong]})}, 2)


@pytest.mark.parametrize("zone", ["UTC", "Europe/Lisbon", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu"])
def test_stamps_of_a_column_are_those_of_each(zone: str) -> None:
    """Random instants, to the second, millisecond and microsecond, and every quarter of an hour around both changes
    of the clock in Lisbon and New York."""
    generator = np.random.default_rng(5)
    epoch = datetime(1972, 1, 2, tzinfo=UTC)
    units = [10**6, 10**3, 1]
    instants = [
        epoch + timedelta(microseconds=int(at) // units[n % 3] * units[n % 3])
        for n, at in enumerate(generator.integers(0, 80 * 365 * 86400 * 10**6, 600))
    ]
    for day in (datetime(2026, 3, 8), datetime(2026, 3, 28), datetime(2026, 10, 24), datetime(2026, 10, 31)):
        instants += [day.replace(tzinfo=UTC) + timedelta(minutes=15 * n) for n in range(200)]
    told = pl.DataFrame({"at": pl.Series(instants, dtype=schema.TIME)}).select(stamps("at", ZoneInfo(zone)))
    assert told["at"].to_list() == [stamp(at, ZoneInfo(zone)) for at in instants]


def test_no_occurrence_takes_a_step_of_python(monkeypatch: pytest.MonkeyPatch) -> None:
    """Numbers are rounded once for each different one, and nothing is done for each row."""
    rounded = []

    def counted(value: float | None) -> float | int | None:
        rounded.append(value)
        return number(value)

    monkeypatch.setattr("eventlens.json_text.number", counted)
    height = 5_000
    table = pl.DataFrame({"measured": np.arange(height) % 10 / 10, "rows": [[1, 2]] * height})
    assert len(json.loads(text({"occurrences": table}, 2))["occurrences"]) == height
    assert len(rounded) == 10
