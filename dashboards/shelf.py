"""Where dumps that people bring in lie: each visitor's own, under names that nobody guesses, as long as they are used.

A dump is one or several files that are read together. Beside the bytes lie what its owner has stated about it (how its
names are read, the machine), so that a review can be made again after a restart, or by another worker, from what is on
disk alone. The files keep their names as far as a name is harmless: dates in them complete stamps that carry none.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Final

MOST_BYTES: Final = 1 << 30
"""Largest file."""
MOST_FILES: Final = 100
"""Files of one dump."""
SPARE_BYTES: Final = 256 << 20
"""What stays free on the disk, for the program itself and for what else the computer does."""
PIECE: Final = 1 << 20
KEPT_DAYS: Final = 30
"""Dumps that were not opened for so long are deleted when the server starts; the page says so."""
PROFILE: Final = "profile.toml"
MACHINE: Final = "machine.toml"
_FILES: Final = "files"
_FACTS: Final = "brought.json"
_KEPT: Final = "kept"
_NAME: Final = re.compile(r"[A-Za-z0-9_-]{20,64}")


class ShelfError(Exception):
    """One sentence: what was wanted, what came, and the remedy."""

    def __init__(self, sentence: str, status: int = 400) -> None:
        super().__init__(sentence)
        self.status = status
        """Of the answer to the browser."""


@dataclass(frozen=True)
class Brought:
    """One file of a dump."""

    name: str
    """As its owner calls it: text to show, never a path."""
    stored: str
    """Its name on disk."""
    size: int
    sha256: str


@dataclass(frozen=True)
class Shelf:
    """The dumps of all visitors under a folder."""

    folder: Path

    # --- bringing in

    def put(
        self, visitor: str, dump: str | None, name: str, length: int | None, body: IO[bytes], modified_ms: int
    ) -> str:
        """Takes a file into a dump (None: a new one) as its bytes come; the dump's name. ShelfError, and nothing kept,
        where it does not come whole.
        """
        if length is None:
            raise ShelfError("A file with its length was wanted, none was stated: choose it again.", 411)
        self._room_for(length, name)
        key = dump or secrets.token_urlsafe(24)
        place = self._place(visitor, key) if dump else self._new(visitor, key)
        there = self.files(visitor, key) if dump else []
        if len(there) >= MOST_FILES:
            raise ShelfError(f"At most {MOST_FILES} files of one dump were wanted: leave '{name}' for another one.")
        stored = _free(_harmless(name), {one.stored for one in there})
        try:
            with _written(place / _FILES / stored) as file:
                size, digest = _copy(body, file, length)
            if size != length:
                raise ShelfError(f"'{name}' broke off after {size} of {length} bytes: bring it in again.")
        except BaseException:
            if not there:
                shutil.rmtree(place, ignore_errors=True)
            raise
        if modified_ms > 0:
            os.utime(place / _FILES / stored, ns=(modified_ms * 10**6,) * 2)
        self._note(place, [*there, Brought(name, stored, size, digest)])
        return key

    def _room_for(self, length: int, name: str) -> None:
        if length <= 0:
            raise ShelfError(f"A file with something in it was wanted, '{name}' is empty: choose another one.")
        if length > MOST_BYTES:
            raise ShelfError(
                f"A file of at most {MOST_BYTES >> 20} MiB was wanted, '{name}' has {length >> 20}: "
                "review it with the command line, or export a shorter time.",
                413,
            )
        self.folder.mkdir(parents=True, exist_ok=True)
        free = shutil.disk_usage(self.folder).free
        if free < length + SPARE_BYTES:
            raise ShelfError(
                f"Room for {length >> 20} MiB was wanted, {max(0, free - SPARE_BYTES) >> 20} MiB are free on the "
                "server's disk: delete dumps that are no longer needed.",
                507,
            )

    # --- what is there

    def files(self, visitor: str, dump: str) -> list[Brought]:
        """The files of a dump, in the order in which they came. ShelfError where the visitor has none of that name."""
        facts = json.loads((self._place(visitor, dump) / _FACTS).read_text("utf-8"))
        return [Brought(**one) for one in facts]

    def paths(self, visitor: str, dump: str) -> list[Path]:
        """Where they lie."""
        place = self._place(visitor, dump)
        os.utime(place)  # it is in use
        return [place / _FILES / one.stored for one in self.files(visitor, dump)]

    def dumps(self, visitor: str) -> list[str]:
        """The visitor's dumps, the one used last first."""
        found = [path for path in self._own(visitor).glob("*") if (path / _FACTS).exists()]
        return [path.name for path in sorted(found, key=lambda path: path.stat().st_mtime_ns, reverse=True)]

    def state(self, visitor: str, dump: str, what: str, text: str) -> Path:
        """Keeps what was stated about a dump (PROFILE or MACHINE); its path."""
        path = self.stated(visitor, dump, what)
        with _written(path) as file:
            file.write(text.encode())
        return path

    def stated(self, visitor: str, dump: str, what: str) -> Path:
        """Where that lies, whether it is there or not."""
        if what not in (PROFILE, MACHINE):
            raise ValueError(what)
        return self._place(visitor, dump) / what

    def keep(self, visitor: str, dump: str) -> None:
        """Keeps what was stated about a dump for others of its kind, also when the dump itself is gone."""
        places = [self.stated(visitor, dump, what) for what in (PROFILE, MACHINE)]
        texts = [path.read_bytes() if path.exists() else b"" for path in places]
        folder = self._own(visitor) / _KEPT / hashlib.sha256(b"\0".join(texts)).hexdigest()[:24]
        folder.mkdir(parents=True, exist_ok=True)
        for what, text in zip((PROFILE, MACHINE), texts, strict=True):
            if text:
                with _written(folder / what) as file:
                    file.write(text)
        os.utime(folder)

    def kept(self, visitor: str) -> list[Path]:
        """Folders with a PROFILE, a MACHINE or both, the one used last first."""
        found = [path for path in (self._own(visitor) / _KEPT).glob("*") if path.is_dir()]
        return sorted(found, key=lambda path: path.stat().st_mtime_ns, reverse=True)

    def drop(self, visitor: str, dump: str) -> None:
        """Deletes a dump with all that was stated about it."""
        shutil.rmtree(self._place(visitor, dump))

    def clear(self, now_s: float | None = None) -> int:
        """Deletes the dumps that were not opened for KEPT_DAYS; how many."""
        oldest = (time.time() if now_s is None else now_s) - KEPT_DAYS * 86400
        old = [path.parent for path in self.folder.glob(f"*/*/{_FACTS}") if path.parent.stat().st_mtime < oldest]
        for path in old:
            shutil.rmtree(path, ignore_errors=True)
        return len(old)

    # --- where

    def _own(self, visitor: str) -> Path:
        """The visitor's folder: his name is a secret, its hash is not."""
        return self.folder / hashlib.sha256(visitor.encode()).hexdigest()

    def _place(self, visitor: str, dump: str) -> Path:
        if not _NAME.fullmatch(dump) or not (place := self._own(visitor) / dump).joinpath(_FACTS).exists():
            raise ShelfError(
                "A dump that you have brought in was wanted, this one is not there: bring it in again.", 404
            )
        return place

    def _new(self, visitor: str, dump: str) -> Path:
        place = self._own(visitor) / dump
        (place / _FILES).mkdir(parents=True)
        return place

    def _note(self, place: Path, files: list[Brought]) -> None:
        with _written(place / _FACTS) as file:
            file.write(json.dumps([asdict(one) for one in files]).encode())


def _copy(body: IO[bytes], file: IO[bytes], most: int) -> tuple[int, str]:
    digest, size = hashlib.sha256(), 0
    while piece := body.read(PIECE):
        size += len(piece)
        if size > most:
            raise ShelfError("More bytes came than the browser had announced: bring the file in again.")
        digest.update(piece)
        file.write(piece)
    return size, digest.hexdigest()


@contextmanager
def _written(path: Path) -> Iterator[IO[bytes]]:
    """A file that is there whole or not at all."""
    rough = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        with rough.open("wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.replace(rough, path)
    finally:
        rough.unlink(missing_ok=True)


def _harmless(name: str) -> str:
    """A name that is a name on every system: its last part, letters, digits, dots, dashes and blanks."""
    last = re.split(r"[/\\]", name)[-1]
    plain = re.sub(r"[^A-Za-z0-9._ -]+", "_", last).strip(" ._-")
    stem, dot, ending = plain.rpartition(".")
    plain = f"{stem[:80]}{dot}{ending[:12]}" if dot else plain[:80]
    reserved = re.fullmatch(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?", plain)
    return f"dump-{plain}" if reserved or not plain else plain


def _free(name: str, taken: set[str]) -> str:
    """The name, or the same with a number before it where another file has it."""
    number = 1
    found = name
    while found.casefold() in {one.casefold() for one in taken}:
        number += 1
        found = f"{number}-{name}"
    return found
