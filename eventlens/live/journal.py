"""Messages as lines of JSON: the journal beside the record, and files that others read.

A message is told in two steps: into the journal, synced; then to whoever listens. So after a kill the journal knows
what was told, and a listener that knows the number of its last message (a file does) is given what it missed, no more.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import IO, Any, Final, Protocol

from eventlens import patterns
from eventlens.errors import EventlensError
from eventlens.live.told import Message

_INSTANTS: Final = ("start", "end")


class Listener(Protocol):
    """Somebody to whom messages are told: a file, a broker, a terminal."""

    def last(self) -> int | None:
        """Number of the last message that it has for sure; None where it cannot know: it is told what is new only."""
        ...

    def tell(self, messages: Sequence[Message]) -> None:
        """Tells them, in their order; returns when they are safe there."""
        ...

    def close(self) -> None:
        """Nothing more is told."""
        ...


def as_json(message: Message) -> dict[str, Any]:
    """A message as it is written: what the occurrence is, what it asks for, and how long it took to be told."""
    one = message.occurrence
    pattern = patterns.catalogue()[one["pattern"]]
    watched = one["certainty"] == "certain" or pattern.severity == "note"
    return {
        "number": message.number,
        "told": message.told,
        "why": message.why,
        "id": message.id,
        "title": pattern.title,
        "severity": pattern.severity if watched else "watch",
        **{name: value.isoformat() if name in _INSTANTS else value for name, value in one.items()},
        "unit": pattern.unit,
        "going_on": message.going_on,
        "delay": {"record_s": round(message.age_s, 6), "program_s": round(message.program_s, 3)},
        "told_at": message.at.isoformat(),
        "whole": message.whole,
    }


def from_json(written: dict[str, Any]) -> Message:
    """The message that was written."""
    names = ("pattern", "motion", "signal", "start", "end", "certainty", "measured", "limit", "direction", "rows", "n")
    one = {name: written[name] for name in names}
    one.update({name: datetime.fromisoformat(one[name]) for name in _INSTANTS})
    return Message(
        number=written["number"],
        told=written["told"],
        why=written["why"],
        occurrence=one,
        going_on=written["going_on"],
        age_s=written["delay"]["record_s"],
        program_s=written["delay"]["program_s"],
        at=datetime.fromisoformat(written["told_at"]),
        whole=written["whole"],
    )


class Lines:
    """A file of messages, one a line. A line that a kill has torn is cut off."""

    def __init__(self, path: Path) -> None:
        """EventlensError where the file holds something else, or cannot be written."""
        self.path, self._last = path, 0
        try:
            _mend(path)
            for written in self._written():
                self._last = int(written["number"])
            self._file: IO[bytes] = path.open("ab")
        except OSError as fault:
            raise EventlensError(
                "a file for findings that can be written", fault.strerror or str(fault), "name another one", file=path
            ) from None
        except (ValueError, KeyError, TypeError):
            raise EventlensError(
                "a file of findings, or none yet", "another file", "name another one", file=path
            ) from None

    def last(self) -> int | None:
        """The number of the last message in it; 0 where there is none."""
        return self._last

    def tell(self, messages: Sequence[Message]) -> None:
        """Appends and syncs them."""
        text = "".join(json.dumps(as_json(message)) + "\n" for message in messages)
        try:
            self._file.write(text.encode())
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as fault:
            raise EventlensError(
                "room for what is told", fault.strerror or str(fault), "free some space", file=self.path
            ) from None
        self._last = messages[-1].number if messages else self._last

    def after(self, number: int = 0) -> Iterator[Message]:
        """The messages after a number, in their order."""
        return (from_json(written) for written in self._written() if written["number"] > number)

    def close(self) -> None:
        """Closes the file."""
        self._file.close()

    def _written(self) -> Iterator[dict[str, Any]]:
        if not self.path.exists():
            return
        with self.path.open("rb") as file:
            for line in file:
                yield json.loads(line)


def _mend(path: Path) -> None:
    """Cuts a file off behind its last whole line."""
    if not path.exists():
        return
    with path.open("r+b") as file:
        size = file.seek(0, os.SEEK_END)
        end = size
        while end > 0:
            begin = max(0, end - (1 << 16))
            file.seek(begin)
            at = file.read(end - begin).rfind(b"\n")
            if at >= 0:
                end = begin + at + 1
                break
            end = begin
        if end < size:
            file.truncate(end)
            os.fsync(file.fileno())
