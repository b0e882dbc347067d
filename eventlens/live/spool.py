"""What came, on the disk byte for byte, and how far it goes: whoever dies when, nothing is lost and nothing doubled.

    STATE/
      snapshot.json          how long each file of the record is, where the source goes on, what is in the archive
      record/000001/saw-3.csv, record/000002/saw-3.csv, ...
      told.jsonl             what was told (live.told)
      lock                   one program at a time

Bytes are appended and synced, then the snapshot with their length is written beside the old one, synced, and put in its
place in one step. So the record is always as long as the snapshot says: what a file has beyond it (the program died
between the two) is cut off when the folder is opened, and the source gives it again.

The files hold whole lines, so that they can be looked at; a line that is only half there waits in the snapshot until
the rest of it comes, another file begins, or nobody follows any more (`finish`).
"""

from __future__ import annotations

import fcntl
import json
import os
import shutil
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import IO, Any, Final

from eventlens.errors import EventlensError
from eventlens.live.lines import end_of_lines, wide
from eventlens.live.sources import Batch, Position

FORM: Final = 1
"""Of the snapshot; raised where an older program would misread it."""
_HEAD: Final = 64


@dataclass(frozen=True)
class Piece:
    """One file of the record."""

    name: str
    bytes: int = 0
    modified_ns: int | None = None


@dataclass(frozen=True)
class Snapshot:
    """Everything that must survive but the record itself and what was told of it."""

    position: Position | None = None
    pieces: tuple[Piece, ...] = ()
    rest: str = ""
    """The bytes behind the last piece that are no whole line yet, as hexadecimal digits."""
    source: str | None = None
    """What was followed, for people."""
    archived: dict[str, Any] = field(default_factory=dict)
    """How far the record is in the archive (live.keep)."""
    wait_s: float | None = None
    """Records that came so late [s] were put in place, as whoever follows stated; None: as the profile says."""


class Spool:
    """The record as it stands in a folder. One program at a time; close it."""

    def __init__(self, folder: Path, step: Callable[[str], None] = lambda name: None) -> None:
        """step: called with a name at each durable step, so that tests can die there."""
        self.folder, self._step = folder, step
        try:
            (folder / "record").mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            raise EventlensError(
                "a folder for what is followed", fault.strerror or str(fault), "name another one", file=folder
            ) from None
        self._lock = _locked(folder)
        try:
            self.snapshot = _read(folder / "snapshot.json")
            self._as_long_as_said()
        except BaseException:
            self._lock.close()
            raise

    @property
    def paths(self) -> list[Path]:
        """The files of the record, in their order."""
        return [self._path(at) for at, piece in enumerate(self.snapshot.pieces) if piece.bytes]

    @property
    def size(self) -> int:
        """How long the record is [bytes]."""
        return sum(piece.bytes for piece in self.snapshot.pieces)

    @property
    def is_inside_a_line(self) -> bool:
        """Whether the record ends with a line that has no end."""
        if self.snapshot.rest or not self.paths:
            return bool(self.snapshot.rest)
        with self.paths[-1].open("rb") as file:
            file.seek(-1, os.SEEK_END)
            return file.read(1) not in b"\r\n"

    def of(self, source: str) -> None:
        """Says what is followed; EventlensError where the record is that of something else."""
        before = self.snapshot.source
        if before not in (None, source):
            raise EventlensError(
                f"what has come from '{source}' so far",
                f"a record of '{before}'",
                "name another folder",
                file=self.folder,
            )
        if before is None:
            self.keep(replace(self.snapshot, source=source))

    def head_of_last(self, first_lines: Sequence[int]) -> bytes | None:
        """What stands before the data in the last file; None where that is not known.

        first_lines: of each file the physical line of the first data line, of those that were looked at.
        """
        paths = self.paths
        if not paths or len(first_lines) != len(paths) or wide(self._head(len(paths) - 1, self.snapshot.pieces[-1])):
            return None
        with paths[-1].open("rb") as file:
            return b"".join(file.readline() for _ in range(first_lines[-1] - 1))

    def take(self, batch: Batch) -> None:
        """Puts a batch on the disk, its position with it; EventlensError where the disk refuses."""
        now = self.snapshot
        if batch.text and (batch.position is None or not (now.pieces or batch.begins)):
            raise ValueError("text needs a position, and the first batch of a record a name of its file")
        if batch.begins is not None:
            self.finish()
            pieces = [piece for piece in self.snapshot.pieces if piece.bytes]  # one that never got a byte is none
            now = replace(self.snapshot, pieces=(*pieces, Piece(Path(batch.begins).name or "log")))
        whole, rest = b"", bytes.fromhex(now.rest) + batch.text
        if batch.text:
            head = self._head(len(now.pieces) - 1, now.pieces[-1]) or rest[:_HEAD]
            end = end_of_lines(rest, head, now.pieces[-1].bytes)
            whole, rest = rest[:end], rest[end:]
        position = now.position if batch.position is None else batch.position
        self._put(replace(now, position=position, rest=rest.hex()), whole, batch.modified_ns)

    def finish(self) -> None:
        """Takes the last line as whole, because no more of it will come here."""
        if self.snapshot.rest:
            self._put(replace(self.snapshot, rest=""), bytes.fromhex(self.snapshot.rest), None)

    def _put(self, now: Snapshot, text: bytes, modified_ns: int | None) -> None:
        """Appends to the last piece and keeps the snapshot."""
        try:
            if text:
                last = now.pieces[-1]
                modified_ns = modified_ns or last.modified_ns
                self._append(len(now.pieces) - 1, last, text, modified_ns)
                grown = Piece(last.name, last.bytes + len(text), modified_ns)
                now = replace(now, pieces=(*now.pieces[:-1], grown))
            if now != self.snapshot:
                self.keep(now)
        except OSError as fault:
            raise EventlensError(
                "room for what is followed", fault.strerror or str(fault), "free some space", file=self.folder
            ) from None

    def keep(self, snapshot: Snapshot) -> None:
        """Puts a snapshot in the place of the last one, in one step."""
        beside = self.folder / "snapshot.new"
        with beside.open("w", encoding="utf-8") as file:
            json.dump({"form": FORM, **asdict(snapshot)}, file)
            file.flush()
            os.fsync(file.fileno())
        self._step("snapshot written")
        beside.replace(self.folder / "snapshot.json")
        sync_folder(self.folder)
        self.snapshot = snapshot
        self._step("snapshot in place")

    def close(self) -> None:
        """Gives the folder back."""
        self._lock.close()

    def _path(self, at: int) -> Path:
        return self.folder / "record" / f"{at + 1:06d}" / self.snapshot.pieces[at].name

    def _head(self, at: int, piece: Piece) -> bytes:
        """The first bytes of a piece."""
        if not piece.bytes:
            return b""
        with (self.folder / "record" / f"{at + 1:06d}" / piece.name).open("rb") as file:
            return file.read(_HEAD)

    def _append(self, at: int, piece: Piece, text: bytes, modified_ns: int | None) -> None:
        path = self.folder / "record" / f"{at + 1:06d}" / piece.name
        new = not path.exists()
        path.parent.mkdir(exist_ok=True)
        with path.open("ab") as file:
            file.write(text)
            file.flush()
            self._step("bytes written")
            os.fsync(file.fileno())
        if new:
            for folder in (path.parent, path.parent.parent, self.folder):
                sync_folder(folder)
        if modified_ns is not None:
            os.utime(path, ns=(modified_ns, modified_ns))
        self._step("bytes synced")

    def _as_long_as_said(self) -> None:
        """Cuts off what the snapshot does not know; EventlensError where something it knows is not there."""
        known = {path.parent.name for path in self.paths}
        for folder in (self.folder / "record").iterdir():
            if folder.name not in known:
                shutil.rmtree(folder)
        for at, piece in enumerate(self.snapshot.pieces):
            path = self._path(at)
            there = path.stat().st_size if path.is_file() else 0
            if there < piece.bytes:
                raise EventlensError(
                    f"a file of the record of {piece.bytes} bytes",
                    f"{there} bytes",
                    "restore the folder from a copy, or begin with an empty one",
                    file=path,
                )
            if there > piece.bytes:
                os.truncate(path, piece.bytes)
                if piece.modified_ns is not None:
                    os.utime(path, ns=(piece.modified_ns, piece.modified_ns))


def read_snapshot(folder: Path) -> Snapshot:
    """How far a record is, for somebody who only looks on; EventlensError where that cannot be read."""
    return _read(folder / "snapshot.json")


def sync_folder(folder: Path) -> None:
    """Makes names in a folder survive a loss of power."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _locked(folder: Path) -> IO[str]:
    lock = (folder / "lock").open("w")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        lock.close()
        raise EventlensError(
            "a folder that nobody else follows into", "another program that does", "name another one", file=folder
        ) from None
    return lock


def _read(path: Path) -> Snapshot:
    if not path.exists():
        return Snapshot()
    try:
        told = json.loads(path.read_text("utf-8"))
        if told.pop("form") != FORM:
            raise ValueError("form")
        pieces = tuple(Piece(**piece) for piece in told.pop("pieces"))
        return Snapshot(pieces=pieces, **told)
    except (ValueError, TypeError, KeyError, AttributeError):
        raise EventlensError(
            f"a snapshot of form {FORM}", "another one", "begin with an empty folder", file=path
        ) from None
