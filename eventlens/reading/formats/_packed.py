"""Packed files around any other format: gzip, zstd, bz2, xz and zip, told by their first bytes, never by a name.

A stream is unpacked into a private temporary folder under a made-up name, so that no path inside an archive can lead
anywhere. A stream that breaks off gives what came before, and that is said: what came is as it was written. A stream
that is damaged (its check sum does not fit) is refused: nobody knows from where on it is wrong.
"""

from __future__ import annotations

import os
import sys
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import BinaryIO, Final

from eventlens.errors import ReadingError
from eventlens.reading.formats._bounds import (
    ALWAYS_FREE,
    DEEPEST,
    MOST_MEMBERS,
    MOST_RATIO,
    MOST_UNPACKED_GB,
)
from eventlens.reading.formats._streams import DAMAGED, MAGICS, unpack

STDIN: Final = Path("-")
_ZIP: Final = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
_CHUNK: Final = 1 << 20
_HEAD: Final = 16
_DOCUMENT_PARTS: Final = frozenset({"[Content_Types].xml", "mimetype"})
"""Members that make a zip archive one document (a spreadsheet), not a parcel of files."""
_LITTER: Final = frozenset({"thumbs.db", "desktop.ini", "__macosx"})

_held: ContextVar[Path | None] = ContextVar("held", default=None)
"""The file that holds standard input."""


@dataclass(frozen=True)
class Source:
    """A file to be read: where its bytes are, and what the user calls it."""

    path: Path
    shown: Path
    origin: Path
    """The file that `shown` names: its fingerprint is the one that is handed on."""
    notes: tuple[str, ...] = ()
    is_member: bool = False
    """One of several files of an archive."""


@contextmanager
def unpacked(paths: Iterable[Path], unpacked_gb: float | None = None) -> Iterator[list[Source]]:
    """The files as sources that can be read while the context lasts. A path that is not there is handed on as it is."""
    with TemporaryDirectory(prefix="eventlens-", ignore_cleanup_errors=True) as folder:
        room = _Room(Path(folder), round((unpacked_gb or MOST_UNPACKED_GB) * 1e9))
        yield [source for path in paths for source in room.open(room.spooled(path), 0)]


@contextmanager
def holding_stdin() -> Iterator[None]:
    """While the context lasts, standard input can be read any number of times: it is kept in a temporary file."""
    with TemporaryDirectory(prefix="eventlens-", ignore_cleanup_errors=True) as folder:
        token = _held.set(_Room(Path(folder), round(MOST_UNPACKED_GB * 1e9)).spooled(STDIN).path)
        try:
            yield
        finally:
            _held.reset(token)


def is_packed(head: bytes) -> bool:
    """Whether a file that begins so is a packed one, or a document of several parts."""
    return head.startswith((*MAGICS.values(), *_ZIP))


def document_parts(path: Path) -> Iterator[tuple[str, bytes]]:
    """Name and piece of all parts of a zipped document; ReadingError if it is broken, encrypted or a bomb."""
    room = _Room(Path(os.devnull), round(MOST_UNPACKED_GB * 1e9))
    with room.archive(path, path) as archive:
        size = path.stat().st_size
        total = 0
        for info in archive.infolist():
            for chunk in room.member(archive, info, path):
                total += len(chunk)
                room.count(len(chunk), total, size, path)
                yield info.filename, chunk


class _Room:
    """The temporary folder, and how much has been put into it."""

    def __init__(self, folder: Path, most: int) -> None:
        self.folder, self.most = folder, most
        self.total = self.files = 0

    def spooled(self, path: Path) -> Source:
        """Standard input as a file; any other path as it is."""
        if path != STDIN:
            return Source(path, path, path)
        shown = Path("stdin")
        place = _held.get() or self._write(iter(lambda: sys.stdin.buffer.read(_CHUNK), b""), None, shown)
        return Source(place, shown, place)

    def open(self, source: Source, depth: int) -> list[Source]:
        """The source itself, or what is packed in it."""
        try:
            with source.path.open("rb") as file:
                head = file.read(_HEAD)
        except OSError:
            return [source]  # the reader says what is wrong
        stream = next((name for name, magic in MAGICS.items() if head.startswith(magic)), None)
        if stream is None and not self._is_parcel(source, head):
            return [source]
        if depth == DEEPEST:
            got = f"more than {DEEPEST} packed files inside one another"
            raise ReadingError("a packed log", got, "unpack it first", file=source.shown)
        inner = self._members(source) if stream is None else [self._stream(source, stream)]
        return [found for one in inner for found in self.open(one, depth + 1)]

    def _is_parcel(self, source: Source, head: bytes) -> bool:
        if not head.startswith(_ZIP):
            return False
        try:
            with zipfile.ZipFile(source.path) as archive:
                return not _DOCUMENT_PARTS & set(archive.namelist())
        except Exception:
            return True  # opened again for its members, and then the fault is said

    def _stream(self, source: Source, kind: str) -> Source:
        notes: list[str] = []
        size = source.path.stat().st_size
        with source.path.open("rb") as file:
            place = self._write(_told(kind, file, notes, source), size, source.shown)
        if not place.stat().st_size:
            got = "one that breaks off before its first row" if notes else "nothing in it"
            raise ReadingError(f"a {kind} file", got, "export the dump again", file=source.shown)
        return Source(place, source.shown, source.origin, (*source.notes, *notes), source.is_member)

    def _members(self, source: Source) -> list[Source]:
        size = source.path.stat().st_size
        with self.archive(source.path, source.shown) as archive:
            wanted = [info for info in archive.infolist() if not _is_litter(info.filename)]
            empty = [info for info in wanted if not info.file_size]
            wanted = [info for info in wanted if info.file_size]
            if not wanted:
                raise ReadingError("a log in the archive", "no file in it", "pack the dump again", file=source.shown)
            notes = (f"Empty files in the archive: {len(empty)}.",) if empty else ()
            found = []
            for info in wanted:
                shown = source.shown.with_name(f"{source.shown.name}: {_safe(info.filename)}")
                place = self._write(self.member(archive, info, shown), size, shown)
                found.append(Source(place, shown, place, (*source.notes, *notes), len(wanted) > 1))
        return found

    @contextmanager
    def archive(self, path: Path, shown: Path) -> Iterator[zipfile.ZipFile]:
        """An archive whose members are few enough and open to all."""
        try:
            archive = zipfile.ZipFile(path)
        except Exception as fault:  # a damaged directory makes it stumble in many ways
            got = f"one that is damaged or breaks off ({fault})"
            raise ReadingError("a whole zip archive", got, "copy or export it again", file=shown) from None
        with archive:
            members = archive.infolist()
            if len(members) > MOST_MEMBERS:
                got = f"{len(members)} files"
                raise ReadingError(f"at most {MOST_MEMBERS} files", got, "unpack the archive first", file=shown)
            if any(info.flag_bits & 1 for info in members):
                raise ReadingError(
                    "an archive that is not encrypted", "one with a password", "unpack it first", file=shown
                )
            yield archive

    def member(self, archive: zipfile.ZipFile, info: zipfile.ZipInfo, shown: Path) -> Iterator[bytes]:
        """The bytes of one member of an archive."""
        try:
            with archive.open(info) as file:
                yield from iter(lambda: file.read(_CHUNK), b"")
        except NotImplementedError as fault:
            got = f"a packing method that is not known ({fault})"
            raise ReadingError("a zip archive", got, "pack it with deflate", file=shown) from None
        except Exception as fault:
            raise ReadingError(
                "a whole zip archive", f"a damaged one ({fault})", "copy or export it again", file=shown
            ) from None

    def count(self, more: int, written: int, size: int | None, shown: Path) -> None:
        """Takes unpacked bytes into account; ReadingError where they are too many."""
        self.total += more
        if self.total > self.most:
            got = "more"
            remedy = "cut the dump, or raise [log] unpacked_gb of the profile"
            raise ReadingError(f"at most {self.most / 1e9:g} GB of unpacked data", got, remedy, file=shown)
        if size is not None and written > max(ALWAYS_FREE, MOST_RATIO * size):
            got = f"one that swells to more than {MOST_RATIO} times its size"
            raise ReadingError("a packed log", got, "unpack it first if it is meant so", file=shown)

    def _write(self, chunks: Iterator[bytes], size: int | None, shown: Path) -> Path:
        """The chunks as a file under a made-up name; `size`: bytes they are unpacked from."""
        self.files += 1
        place = self.folder / f"{self.files:05}"
        written = 0
        with place.open("wb") as file:
            for chunk in chunks:
                written += len(chunk)
                self.count(len(chunk), written, size, shown)
                try:
                    file.write(chunk)
                except OSError as fault:
                    got = fault.strerror or str(fault)
                    raise ReadingError("room in the temporary folder", got, "make room", file=shown) from None
        return place


def _told(kind: str, file: BinaryIO, notes: list[str], source: Source) -> Iterator[bytes]:
    """The unpacked stream; adds a note where it breaks off, and says where it is damaged."""
    try:
        end = yield from unpack(kind, file)
    except DAMAGED as fault:
        got = f"a damaged one ({str(fault)[:80]})"
        raise ReadingError(f"a whole {kind} file", got, "copy or export it again", file=source.shown) from None
    if end == "cut":
        notes.append(f"The {kind} file '{source.shown.name}' breaks off: what came before the break was read.")
    elif end == "more":
        notes.append(f"Bytes after the end of the {kind} data in '{source.shown.name}' were passed over.")


def _is_litter(name: str) -> bool:
    """Folders, and files that a computer put into the archive for itself."""
    parts = name.replace("\\", "/").lower().split("/")
    is_folder = name.endswith("/")
    return is_folder or bool(_LITTER & set(parts)) or parts[-1].startswith(".")


def _safe(name: str) -> str:
    """A member's name as part of a shown name: printable, without folders' marks."""
    return "".join(c if c.isprintable() and c not in "/\\" else "_" for c in name)[-100:]
