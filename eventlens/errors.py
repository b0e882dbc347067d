"""One root error. Every error is one sentence: what was wanted, what came, where, and the remedy."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from pathlib import Path


class EventlensError(Exception):
    """Root of all errors that eventlens raises on purpose.

    wanted, got and remedy are plain text; file and line say where (line counts from 1).
    """

    def __init__(
        self,
        wanted: str,
        got: str,
        remedy: str,
        *,
        file: str | Path | None = None,
        line: int | None = None,
    ) -> None:
        self.wanted, self.got, self.remedy = wanted, got, remedy
        self.file = None if file is None else str(file)
        self.line = line
        super().__init__(self._sentence())

    def _sentence(self) -> str:
        where = ""
        if self.file is not None:
            where = self.file + (f", line {self.line}" if self.line is not None else "") + ": "
        stop = "" if self.remedy.endswith("?") else "."
        return printable(f"{where}wanted {self.wanted}, got {self.got}; {self.remedy}{stop}")


def printable(text: str) -> str:
    """The text with control characters written out: what comes from a file may hold line ends or steer a terminal."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


class ReadingError(EventlensError):
    """A dump could not be read."""


class ProfileError(EventlensError):
    """A profile file is wrong."""


class MachineError(EventlensError):
    """A machine file is wrong."""


class KnowledgeError(EventlensError):
    """What is known about causes is wrong, or a file that adds to it."""


class ArchiveError(EventlensError):
    """An archive could not be read or written, or holds something else than was asked for."""


def nearest(word: str, known: Iterable[str]) -> str:
    """A hint for a mistyped word: the nearest known one, or the whole choice when nothing is near."""
    choices = sorted(known)
    close = difflib.get_close_matches(word, choices, n=1, cutoff=0.6)
    return f"did you mean '{close[0]}'?" if close else "known are " + ", ".join(choices)
