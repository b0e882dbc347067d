"""Rows of the table that a source without a text of its own writes: `reading.live_keys.COLUMNS`.

    time,signal,value,quality,note
    2026-03-02T06:00:00.120000Z,K11,1,good,
    2026-03-02T06:00:04.000000Z,K11,,unknown,status BadNoCommunication
    ,quay/saw-3/K12/state,"{""state"": ",unknown,no JSON

A row that no stamp or no name could be found for has none: reading sets it aside, with its line, as it does with rows
of any dump; the note says why. So nothing that came is missing in the record.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Final

from eventlens.errors import printable
from eventlens.reading.live_keys import COLUMNS, GOOD

HEADER: Final = (",".join(COLUMNS) + "\n").encode()
UNKNOWN: Final = "unknown"
LONGEST: Final = 200
"""Characters of a name or a value, and of what is kept of a payload that is not understood: as reading keeps of a row
that it sets aside."""
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
EARLIEST_US: Final = 0
LATEST_US: Final = 7_258_118_400_000_000
"""Stamps from 1970 to 2200, as the keys of a profile."""


def row(stamp_us: int, name: str, value: str | None, note: str = "") -> str:
    """A row of a known instant [us since 1970]; value None: unknown from there on."""
    quality = UNKNOWN if value is None else GOOD
    return f"{stamp(stamp_us)},{_cell(name)},{_cell(value or '')},{quality},{_cell(note)}\n"


def aside(where: str, text: str, why: str) -> str:
    """A row without an instant: what came, where, and why it was not understood."""
    return f",{_cell(_bounded(where))},{_cell(_bounded(text))},{UNKNOWN},{_cell(why)}\n"


def stamp(stamp_us: int) -> str:
    """An instant as text."""
    return (_EPOCH + timedelta(microseconds=stamp_us)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def fault_of(name: str, value: str | None) -> str | None:
    """Why a name or a value cannot stand in a row; None: they can."""
    if not name.strip():
        return "no name"
    for what, text in (("name", name), ("value", value or "")):
        if len(text) > LONGEST:
            return f"{what} longer than {LONGEST} characters"
        if not text.isprintable():
            return f"{what} with control characters"
    return None


def _bounded(text: str) -> str:
    return printable(text[:LONGEST])[:LONGEST]


def _cell(text: str) -> str:
    """A cell; quoted where it must be."""
    if any(mark in text for mark in ',"\r\n') or text != text.strip():
        return '"' + text.replace('"', '""') + '"'
    return text
