"""JSON: a record for each line, or one document with an array of records; a record is an object or an array of cells.

    {"time": "2026-03-02T06:00:00.120Z", "tag": "K11", "state": 1}
    {"time": "2026-03-02T06:00:00.480Z", "tag": "K11", "state": 0}

    [["time", "tag", "state"], ["2026-03-02T06:00:00.120Z", "K11", 1]]

`row` is the line on which the record begins. Nested objects become columns `outer.inner`; numbers stay the text that
stands in the file, so none loses a digit. A name that a record holds twice gives a column `name_2`. A name that is
missing in a record is an empty cell. Each record goes through the JSON parser by itself: no parser of whole columns
keeps numbers as they stand, nor says which line is broken.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import islice
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.reading.formats._json import read_document, read_lines, stands_alone, whole_object
from eventlens.reading.formats._table import whole_table
from eventlens.reading.formats._text import is_text, open_text
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

NAME = "JSON"
_BEGIN: Final = re.compile(r'\{\s*["}]|\[\s*(?:[\[{"\]]|$)')
_SPACE: Final = "\0 \t\r\n\x1e"
"""What may stand before a record; the last one is the mark of JSON text sequences (RFC 7464)."""
_BRACKETS: Final = "[]{}," + _SPACE
_LOOKED_AT: Final = 50
"""Lines by which a record for each line is told from one document."""


def sniff(path: Path, head: bytes) -> bool:
    """Text that begins like a JSON object or array, or whose lines mostly do."""
    if not is_text(head):
        return False
    text = _decoded(head).lstrip(_SPACE)
    lines = [line.strip(_SPACE) for line in text.splitlines()[:_LOOKED_AT] if line.strip(_SPACE)]
    if not lines:
        return False
    records = sum(bool(_BEGIN.match(line)) and line.startswith(("{", "[[", '["')) for line in lines)
    return bool(_BEGIN.match(text)) or 2 * records > len(lines)


def read(path: Path, profile: Profile, like: RawTable | None = None) -> RawTable:
    """The records as a table, all cells as text; broken ones set aside with their line."""
    text = open_text(path, profile.log.encoding)
    content = bytes(text.data[:]).decode("utf-8", "replace").removeprefix("\ufeff")
    lines = content.split("\n")
    records = read_lines(lines, path) if _line_by_line(lines, content) else read_document(content, path)
    frame = records.frame()
    return whole_table(
        path,
        NAME,
        frame if frame.width else pl.DataFrame({"column_1": pl.Series([], dtype=pl.String)}),
        lines=records.lines(),
        rejected=records.rejected(),
        blank=records.blank,
        first_line=records.begin(),
        last_line=max(text.line_count, records.begin()),
        notes=(*text.notes, *records.notes),
        sparse=True,
    )


def _line_by_line(lines: Sequence[str], content: str) -> bool:
    """Whether each line is a record by itself. Lines of brackets only (empty records) stand in any kind of file."""
    first = list(islice((line.strip() for line in lines if line.strip(_SPACE)), 2))
    if not first:
        return True
    if not stands_alone(first[0], len(first)) and (first[0].startswith("[") or whole_object(content) is not None):
        return False
    telling = list(islice((line for line in lines if line.strip(_BRACKETS)), _LOOKED_AT))
    alone = [stands_alone(line, len(first)) for line in telling]
    return all(alone[:1]) or 2 * sum(alone) >= len(alone)


def _decoded(head: bytes) -> str:
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"), (b"\xef\xbb\xbf", "utf-8-sig")):
        if head.startswith(mark):
            return head.decode(encoding, "ignore")
    if head[1:2] == b"\0":
        return head.decode("utf-16-le", "ignore")
    return head.decode("utf-16-be" if head[:1] == b"\0" else "utf-8", "ignore")
