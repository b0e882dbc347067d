"""A file that grows, is rotated (renamed, a new one in its place), cut off (copied, then emptied), or replaced.

Where a file stands is told by what stands in it, not by its name: the bytes at its beginning and those before the place
that was read up to. So whatever was done with names, the file that holds these bytes goes on there:

- the file of the name itself: it grew, or was written anew with the same beginning;
- another file beside it with a number or a date in its name (saw-3.csv.1): it was renamed or copied away. Its rest is
  read first, then such files that were written after it, then the one of the name, from its beginning;
- none: what was not read yet of the old one is lost, and that is said.

It is looked at again and again (no service of the operating system tells of files on every kind of share).
"""

from __future__ import annotations

import os
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO, Final

from eventlens.errors import ReadingError
from eventlens.live.sources._base import Batch, Following, Position
from eventlens.reading.files import natural

SCHEMES: Final = ("file",)
MOST_BYTES: Final = 1 << 22
"""In one batch."""
EVERY_S: Final = 0.1
"""So often a file is looked at [s] (common practice, no source)."""
KNOWN_BY: Final = 512
"""Bytes at the beginning, and before the place that was read up to, by which a file is known again."""
LOOKS_AFTER: Final = 3
"""So many looks find nothing more in a file that has another one in its place, before it counts as read: whoever
writes may hold it open a moment longer."""


@dataclass(frozen=True)
class _Place:
    """How far a file was read, and by what it is known again."""

    offset: int = 0
    head: bytes = b""
    before: bytes = b""
    """The bytes before `offset`."""

    def after(self, text: bytes) -> _Place:
        """Behind more of it."""
        head = self.head + text[: KNOWN_BY - len(self.head)]
        return _Place(self.offset + len(text), head, (self.before + text)[-KNOWN_BY:])

    def next_in(self, file: BinaryIO) -> bytes | None:
        """What follows in a file; None where it does not hold what was read."""
        if self.head != _at(file, 0, len(self.head)):
            return None
        # both in one go, so that nobody empties the file in between
        both = _at(file, self.offset - len(self.before), len(self.before) + MOST_BYTES)
        return both[len(self.before) :] if both.startswith(self.before) else None

    def said(self) -> Position:
        """As JSON."""
        return {"offset": self.offset, "head": self.head.hex(), "before": self.before.hex()}

    @classmethod
    def of(cls, position: Position) -> _Place:
        """From JSON."""
        return cls(
            int(position["offset"]), bytes.fromhex(str(position["head"])), bytes.fromhex(str(position["before"]))
        )


class FileSource:
    """A file, by its name; it need not be there yet."""

    def __init__(self, path: str | Path, *, every_s: float = EVERY_S) -> None:
        self.path, self._every_s = Path(path), every_s
        self.name = str(self.path.absolute())
        self._file: BinaryIO | None = None
        self._place: _Place | None = None
        self._left = 0
        self._refused = False
        self._notes: list[str] = []

    @property
    def trouble(self) -> str:
        """Why nothing can be read."""
        if self._refused:
            return "the file cannot be read"
        return "the file is not there" if self._file is None else ""

    def resume(self, position: Position | None) -> None:
        """Goes on where a position says; ReadingError where the path can be no file that grows."""
        if self.path.is_dir():
            raise ReadingError("a file that grows", "a folder", "name the file in it", file=self.path)
        self._place = None if position is None else _Place.of(position)

    def more(self, within_s: float) -> Batch:
        """What came within so many seconds."""
        until = time.monotonic() + within_s
        while True:
            batch = self._tried()
            if batch.text or batch.notes:
                return batch
            left = until - time.monotonic()
            if left <= 0:
                return batch
            time.sleep(min(self._every_s, left))

    def kept(self, position: Position) -> None:
        """Nothing is to be done: the file stays as it is."""

    def close(self) -> None:
        """Closes the file that is being read."""
        if self._file is not None:
            self._file.close()
            self._file = None

    def _tried(self) -> Batch:
        """One look; a disk or a share that refuses is said once, and asked again."""
        try:
            batch = self._once()
        except OSError as fault:
            self.close()
            first, self._refused = not self._refused, True
            said = f"'{self.path.name}' cannot be read: {fault.strerror or fault}; it is tried again."
            return Batch(notes=(said,) if first else ())
        self._refused = False
        return batch

    def _once(self) -> Batch:
        """One look."""
        if self._file is None:
            self._file = self._open()
            if self._file is None:
                return self._told(Batch())
        if self._place is None:
            return self._begin()
        text = self._place.next_in(self._file)
        if text is None:  # emptied, or written anew, under our eyes
            self._elsewhere()
            return self._told(Batch())
        if text:
            self._left = 0
            return self._given(text, None)
        if self._is_left():
            self._left += 1
            if self._left >= LOOKS_AFTER:
                self._go_on()
        return self._told(Batch())

    def _open(self) -> BinaryIO | None:
        """The file to read from: the one that holds what was read already, else the one of the name."""
        if self._place is not None and (known := self._holding(self._place)):
            return known
        file = _opened(self.path)
        if file is not None and self._place is not None:
            self._notes.append(self._lost())
            self._place = None
        return file

    def _begin(self) -> Batch:
        """The first bytes of a file."""
        assert self._file is not None
        text = _at(self._file, 0, MOST_BYTES)
        if not text:
            if self._is_left():  # one that was empty was replaced
                self.close()
            return self._told(Batch())
        self._place = _Place()
        return self._given(text, self.path.name)

    def _given(self, text: bytes, begins: str | None) -> Batch:
        assert self._file is not None
        assert self._place is not None
        self._place = self._place.after(text)
        modified = os.fstat(self._file.fileno()).st_mtime_ns
        return self._told(Batch(text, self._place.said(), begins, modified_ns=modified))

    def _told(self, batch: Batch) -> Batch:
        notes, self._notes = tuple(self._notes), []
        return replace(batch, notes=notes)

    def _is_left(self) -> bool:
        """Whether the name stands for another file by now, one that is there."""
        assert self._file is not None
        try:
            now = self.path.stat()
        except OSError:
            return False
        here = os.fstat(self._file.fileno())
        return (now.st_dev, now.st_ino) != (here.st_dev, here.st_ino)

    def _elsewhere(self) -> None:
        """The file that was read does not hold any more what it held: who does?"""
        assert self._place is not None
        self.close()
        self._file = self._holding(self._place)
        if self._file is None:
            self._notes.append(self._lost())
            self._place = None
        elif self._is_left():
            self._notes.append(f"'{self.path.name}' was emptied or written anew; a copy of it is read to its end.")

    def _go_on(self) -> None:
        """The file was read to its end, and another one has its name."""
        assert self._file is not None
        assert self._place is not None
        here = os.fstat(self._file.fileno())
        following = _opened(self.path)
        if (
            following is not None and self._place.next_in(following) is not None
        ):  # written anew, with the same beginning
            self.close()
            self._file, self._left = following, 0
            return
        between = next(self._after(here), None) if following is not None else None
        self.close()
        if following is not None and between is not None:
            following.close()
            following = _opened(between)
        self._file, self._place, self._left = following, None, 0
        self._notes.append(f"'{self.path.name}' was rotated: its rest was read, then the new file from its beginning.")

    def _after(self, here: os.stat_result) -> Iterator[Path]:
        """Files beside that were written after the one that was read and before the one of the name, oldest first."""
        now = self.path.stat()
        seen = []
        for path in self._beside():
            there = path.stat()
            ours = (there.st_dev, there.st_ino) in ((here.st_dev, here.st_ino), (now.st_dev, now.st_ino))
            if not ours and here.st_mtime_ns < there.st_mtime_ns <= now.st_mtime_ns:
                seen.append((there.st_mtime_ns, path))
        return (path for _, path in sorted(seen, key=lambda one: one[0]))

    def _beside(self) -> list[Path]:
        """Files named like the file with a number or a date: saw-3.csv.1, saw-3.csv-20260302, saw-3.1.csv."""
        stem, name, suffix = (re.escape(part) for part in (self.path.stem, self.path.name, self.path.suffix))
        turned = re.compile(rf"({name}|{stem})[._-]?[0-9][0-9T_.:-]*({suffix})?")
        try:
            found = [path for path in self.path.parent.iterdir() if turned.fullmatch(path.name) and path.is_file()]
        except OSError:
            return []
        return sorted((path for path in found if path.name != self.path.name), key=natural)

    def _holding(self, place: _Place) -> BinaryIO | None:
        """The file that holds what was read: that of the name before those beside it."""
        for path in (self.path, *self._beside()):
            file = _opened(path)
            if file is None:
                continue
            try:
                known = place.next_in(file) is not None
            except OSError:  # it may well hold it: asked again later
                file.close()
                raise
            if known:
                return file
            file.close()
        return None

    def _lost(self) -> str:
        return (
            f"'{self.path.name}' is another file than the one that was read, and that one is not beside it any more: "
            "what may have been written to it since is lost."
        )


def opened(address: str, following: Following) -> FileSource:
    """The source of an address. Its lines are read as any dump is: nothing is to be known for following it."""
    return FileSource(address.removeprefix("file://"))


def _opened(path: Path) -> BinaryIO | None:
    try:
        return path.open("rb")
    except OSError:
        return None


def _at(file: BinaryIO, offset: int, most: int) -> bytes:
    file.seek(offset)
    return file.read(most)
