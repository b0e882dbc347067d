"""System log: RFC 5424, and the older form of RFC 3164 whose stamps have no year; with or without a priority.

    <134>1 2026-03-02T06:00:00.120Z hoist1 plc 311 IO [io@1 slot="2"] tag=K11 state=1
    <134>Mar  2 06:00:00 hoist1 plc[311]: tag=K11 state=1
    Mar  2 06:00:00 hoist1 plc[311]: tag=K11 state=1

Columns: time, host, app, process, id, priority, what the structured data hold (`io@1.slot`), pairs of the message
(`tag`, `state`), message. See `_pairs` for what becomes a column. `row` is the line. A line that is no record is set
aside; a line that begins with a blank goes on with the message of the line before.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.reading.formats._pairs import table_of_records, widened
from eventlens.reading.formats._text import is_text, lines_of_head
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "syslog"
NO_RECORD: Final = "no record of a system log"

_PRI: Final = r"(?:\d{1,8} )?<(?P<priority>\d{1,3})>"
_NEW: Final = (
    _PRI
    + r"1 (?P<time>\S+) (?P<host>\S+) (?P<app>\S+) (?P<process>\S+) (?P<id>\S+) "
    + r'(?P<data>-|(?:\[(?:[^\]"\\]|"(?:\\.|[^"\\])*")*\])+)(?: (?P<message>.*))?'
)
_STAMP: Final = (
    r"(?P<time>[A-Z][a-z]{2} {1,2}\d{1,2} (?:\d{4} )?\d{2}:\d{2}:\d{2}(?:[.,]\d{1,9})?(?: \d{4})?"
    r"|\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(?:[.,]\d{1,9})?(?:Z|[+-]\d{2}:?\d{2})?)"
)
_TAG: Final = r"(?P<app>[^\s:\[\]=]{1,48})(?:\[(?P<process>[^\]\s]{1,128})\])?:(?: (?P<message>.*))?"
_OLD: Final = f"(?:{_PRI})?{_STAMP} (?P<host>[^\\s:=]+) {_TAG}"
_UNTAGGED: Final = _PRI + _STAMP + r" (?P<host>[^\s:=]+)(?: (?P<message>.*))?"
_FORMS: Final = tuple(f"^(?s:{form})$" for form in (_NEW, _OLD, _UNTAGGED))
_PATTERNS: Final = tuple(re.compile(form.replace("(?s:", "(?:"), re.S) for form in _FORMS)
_COLUMNS: Final = ("time", "host", "app", "process", "id", "priority", "data", "message")
_ELEMENT: Final = r'\[([^\s=\]"]+)((?:\s+[^\s=\]"]+="(?:\\.|[^"\\])*")*)\s*\]'
_PARAMETER: Final = r'([^\s=\]"]+)="((?:\\.|[^"\\])*)"'
_LOOKED_AT: Final = 20


def sniff(path: Path, head: bytes) -> bool:
    """Text of which most of the first lines are records."""
    if not is_text(head):
        return False
    lines = [line for line in lines_of_head(head) if not line.startswith((" ", "\t"))][:_LOOKED_AT]
    return 2 * sum(any(form.match(line[:4096]) for form in _PATTERNS) for line in lines) > len(lines)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The records as a table of texts; what is no record is set aside with its line."""
    return table_of_records(
        path, NAME, profile, NO_RECORD, lambda lines: _with_data(_parts(lines), path), like, prose=True
    )


def _parts(lines: pl.DataFrame) -> pl.DataFrame:
    """The parts of each line by the first form that fits; all null where none does."""
    found = pl.DataFrame({name: pl.repeat(None, lines.height, dtype=pl.String, eager=True) for name in _COLUMNS})
    for form in _FORMS:
        left = found["time"].is_null()
        if not left.any():
            break
        groups = lines.select(pl.col("text").str.extract_groups(form).alias("g"))["g"].struct.unnest()
        now = [
            pl.when(left).then(groups[name]).otherwise(found[name]).alias(name)
            for name in _COLUMNS
            if name in groups.columns
        ]
        found = found.with_columns(now)
    nil = [pl.when(pl.col(name) != "-").then(pl.col(name)).alias(name) for name in _COLUMNS[:-1]]
    return found.with_columns(*nil, pl.col("message").str.strip_prefix("\ufeff"))


def _with_data(frame: pl.DataFrame, path: Path) -> pl.DataFrame:
    """Structured data as columns `element.parameter`, in the order in which they come."""
    elements = (
        frame.select("data")
        .with_row_index("at")
        .drop_nulls()
        .with_columns(pl.col("data").str.extract_all(_ELEMENT))
        .explode("data")
        .drop_nulls()
        .select("at", pl.col("data").str.extract_groups(_ELEMENT))
        .unnest("data")
        .select("at", element="1", parameter=pl.col("2").str.extract_all(_PARAMETER))
        .explode("parameter")
        .drop_nulls()
        .select("at", "element", pl.col("parameter").str.extract_groups(_PARAMETER))
        .unnest("parameter")
        .select(
            "at",
            key=pl.concat_str("element", pl.lit("."), "1"),
            value=pl.col("2").str.replace_all(r'\\(["\\\]])', "${1}"),
        )
    )
    return widened(frame.drop("data"), elements, path)
