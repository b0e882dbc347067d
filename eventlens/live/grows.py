"""What can be followed line by line, told by its first bytes; anything else is refused in one sentence."""

from __future__ import annotations

import json
from pathlib import Path
from types import MappingProxyType
from typing import Final

from eventlens.errors import ReadingError
from eventlens.reading.formats import container_of

LINES: Final = ("delimited text", "syslog", "text of pairs", "JSON")
"""Containers in which each line, or row, stands by itself."""
_REMEDY: Final = MappingProxyType({"packed": "follow the file that it is packed from"})
_HEAD: Final = 1 << 16


def refuse_what_cannot_grow(path: Path, shown: str) -> None:
    """ReadingError unless more lines at its end make a file a longer log. shown: its name for people."""
    name = container_of(path)
    if name is None or name not in LINES:
        got = f"a file of the kind {name}" if name else "a binary file"
        raise _refused(got, _REMEDY.get(name or "", "let the logger write text"), shown)
    if name == "JSON" and not _stands_alone(path):
        raise _refused("one JSON document", "let the logger write a record a line", shown)


def _refused(got: str, remedy: str, shown: str) -> ReadingError:
    return ReadingError("a log that grows line by line", got, remedy, file=shown)


def _stands_alone(path: Path) -> bool:
    """Whether the first line is a JSON value by itself."""
    with path.open("rb") as file:
        line = file.read(_HEAD).lstrip(b"\xef\xbb\xbf\x1e \t\r\n").split(b"\n", 1)[0]
    try:
        json.loads(line.decode("utf-8", "replace"))
    except ValueError:
        return len(line) > _HEAD // 2  # a record longer than what was read
    return True
