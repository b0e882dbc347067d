"""JSON texts -> records: a record for each line, or a walk through one document."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, Final

from eventlens.reading.formats._bounds import LONGEST_LINE
from eventlens.reading.formats._records import BROKEN, TOO_LONG, Pairs, Records
from eventlens.reading.raw import TEXT_KEPT

_SPACE: Final = re.compile(r"[\s,]*")
_NEXT: Final = re.compile(r"(?:^[ \t,]*|(?<=[}\]])\s*,\s*)(?=[\[{])", re.MULTILINE)
"""Where a record may begin: at the beginning of a line, or behind the comma after another one."""

_DECODER: Final = json.JSONDecoder(
    parse_float=str, parse_int=str, parse_constant=str, object_pairs_hook=Pairs, strict=False
)


def read_lines(lines: list[str], path: Path) -> Records:
    """A record for each line; empty lines are blank, what follows the last line end is no line."""
    records = Records(path)
    if lines and not lines[-1]:
        lines = lines[:-1]
    for number, line in enumerate(lines, 1):
        text = line.strip().strip("\x1e\0").rstrip(",")
        if not text:
            records.blank += 1
        elif len(text) > LONGEST_LINE:
            records.refuse(number, TOO_LONG, text)
        else:
            try:
                value = _DECODER.decode(text)
            except (ValueError, RecursionError):
                records.refuse(number, BROKEN, text)
            else:
                records.add(value, number, text)
    return records


def read_document(text: str, path: Path) -> Records:
    """The records of one document, or of objects one after the other over many lines.

    After a broken record reading goes on at the next line that begins with a record; the lines between are set aside
    as one.
    """
    records = Records(path)
    lone = whole_object(text)
    at = _SPACE.match(text).end()  # type: ignore[union-attr]
    at = _open(text, at) if lone is None else _inside(text, lone, records)
    line, counted = 1, 0
    while (at := _SPACE.match(text, at).end()) < len(text):  # type: ignore[union-attr]
        line += text.count("\n", counted, at)
        counted = at
        if text[at] == "]":
            if lone is not None:
                break
            at = _open(text, _SPACE.match(text, at + 1).end())  # type: ignore[union-attr]
            continue
        try:
            value, end = _DECODER.raw_decode(text, at)
        except (ValueError, RecursionError):
            following = _NEXT.search(text, at + 1)
            end = following.end() if following else len(text)
            records.refuse(line, BROKEN, text[at : min(end, at + TEXT_KEPT)])
        else:
            records.add(value, line, text[at : min(end, at + TEXT_KEPT)])
        if records.count == 1:
            records.first_line = max(records.first_line, line)
        at = end
    return records


def _open(text: str, at: int) -> int:
    """Behind the bracket of an array, if one stands there."""
    return at + (text[at : at + 1] == "[")


def whole_object(text: str) -> Any:
    """The document, if it is one object that may hold the records; None for arrays and for broken ones."""
    if not text.lstrip().startswith("{"):
        return None
    try:
        return _DECODER.decode(text)
    except (ValueError, RecursionError):
        return None


def _inside(text: str, document: Pairs, records: Records) -> int:
    """Where the records of an object begin: behind the bracket of its longest array of records, else at the start."""
    arrays = [(len(value), key) for key, value in document if _holds_records(value)]
    start = len(text) - len(text.lstrip())
    if not arrays:
        return start
    key = max(arrays)[1]
    found = re.search(re.escape(json.dumps(key, ensure_ascii=False)) + r"\s*:\s*\[", text)
    if found is None:
        return start
    records.notes.append(f"The records are those in '{key[:60]}' of the document; the rest of it was passed over.")
    return found.end()


def _holds_records(value: Any) -> bool:
    return type(value) is list and bool(value) and all(isinstance(item, list) for item in value)


def stands_alone(line: str, lines: int) -> bool:
    """Whether a line is a record by itself. The only line of a file may be a whole document instead."""
    try:
        value = _DECODER.decode(line.strip().strip("\x1e").rstrip(","))
    except (ValueError, RecursionError):
        return False
    if isinstance(value, Pairs):
        return lines > 1 or not any(_holds_records(inner) for _, inner in value)
    return type(value) is list and not _holds_records(value)
