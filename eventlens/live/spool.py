"""What came, on the disk byte for byte, and how far it goes: whoever dies when, nothing is lost and nothing doubled.

    STATE/
      snapshot.json          how long each file of the record is, where the source goes on, what is in the archive
      record/000001/saw-3.csv, record/000002/saw-3.csv, ...
      told.jsonl             what was told (live.told)
      lock                   one program at a time

Bytes are appended and synced, then the snapshot with their length is written beside the old one, synced, and put in its
place in one step. So the record is always as long as the snapshot says: what a file has beyond it (the program died
between the two) is cut off when the folder is opened, and the source gives it again.
"""

from __future__ import annotations

import fcntl
import json
import os
import shutil
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import IO, Any, Final

from eventlens.errors import EventlensError
from eventlens.live.sources import Batch, Position

FORM: Final = 1
"""Of the snapshot; raised where an older program would misread it."""
_BLOCK: Final = 1 << 20


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
    source: str | None = None
    """What was followed, for people."""
    archived: dict[str, Any] = field(default_factory=dict)
    """How far the record is in the archive (live.keep)."""


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
    def bytes(self) -> int:
        """How long the record is."""
        return sum(piece.bytes for piece in self.snapshot.pieces)

    def take(self, batch: Batch) -> None:
        """Puts a batch on the disk, its position with it; EventlensError where the disk refuses."""
        pieces = list(self.snapshot.pieces)
        if batch.begins is not None:
            pieces[-1:] = [piece for piece in pieces[-1:] if piece.bytes]  # one that never got a byte is none
            pieces.append(Piece(Path(batch.begins).name or "log"))
        if batch.text and (not pieces or batch.position is None):
            raise ValueError("text needs a position, and the first batch of a record a name of its file")
        try:
            if batch.text:
                last = pieces[-1]
                self._append(len(pieces) - 1, last, batch)
                pieces[-1] = Piece(last.name, last.bytes + len(batch.text), batch.modified_ns or last.modified_ns)
            position = self.snapshot.position if batch.position is None else batch.position
            if tuple(pieces) != self.snapshot.pieces or position != self.snapshot.position:
                self.keep(Snapshot(position, tuple(pieces), self.snapshot.source, self.snapshot.archived))
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

    def _append(self, at: int, piece: Piece, batch: Batch) -> None:
        path = self.folder / "record" / f"{at + 1:06d}" / piece.name
        new = not path.exists()
        path.parent.mkdir(exist_ok=True)
        with path.open("ab") as file:
            file.write(batch.text)
            file.flush()
            self._step("bytes written")
            os.fsync(file.fileno())
        if new:
            for folder in (path.parent, path.parent.parent, self.folder):
                sync_folder(folder)
        if batch.modified_ns is not None:
            os.utime(path, ns=(batch.modified_ns, batch.modified_ns))
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
