"""Dumps as files: taken in by their bytes, and as the ledger knows them.

Name and time of writing are part of the evidence: stamps without a year or a date are completed from them.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import polars as pl

from eventlens.archive.lake import Lake, quoted
from eventlens.archive.tables import IMPORT, RECORD
from eventlens.errors import ArchiveError, ProfileError, ReadingError
from eventlens.reading.profile import Profile, load_profile

BLOCK: Final = 1 << 22
"""Bytes that are copied at once."""
_DUMP_COLUMNS: Final = ("machine", "file", "name", "size", "modified_ns", "months", "home", "first", "last")
_LEDGER_COLUMNS: Final = (*_DUMP_COLUMNS, "profile", "profile_sha256", "profile_text", "who", "added")


@dataclass(frozen=True)
class Stated:
    """A profile as it was given: its name and its text."""

    name: str | None = None
    text: str | None = None

    @property
    def sha256(self) -> str | None:
        """Of the text; None: nothing was stated."""
        return None if self.text is None else hashlib.sha256(self.text.encode()).hexdigest()

    @classmethod
    def of(cls, path: str | Path | None) -> Stated:
        """The profile in a file; ProfileError where it may not be so."""
        if path is None:
            return cls()
        load_profile(path)
        return cls(Path(path).name, Path(path).read_bytes().decode("utf-8-sig"))

    def profile(self, folder: Path) -> Profile:
        """The profile itself; folder: where it may be written down."""
        if self.text is None:
            return Profile()
        path = folder / f"profile-{self.sha256}" / (self.name or "profile.toml")
        path.parent.mkdir(exist_ok=True)
        path.write_text(self.text, "utf-8")
        return load_profile(path)


@dataclass(frozen=True)
class Dump:
    """One file of a machine, as the ledger knows it."""

    machine: str
    file: str
    """SHA-256 of its bytes."""
    name: str
    size: int
    modified_ns: int
    stated: Stated
    who: str
    added: datetime
    months: tuple[str, ...] = ()
    """Months in which it has events, and that of its first record."""
    home: str = ""
    first: datetime | None = None
    last: datetime | None = None
    given: str = field(default="", compare=False)
    """The path that the user named, where it is being added."""

    @property
    def key(self) -> tuple[str, str | None]:
        """The same dump read in the same way."""
        return self.file, self.stated.sha256

    def place(self, folder: Path) -> Path:
        """Where it lies when it is laid out."""
        return folder / self.file / self.name


def take(path: str | Path, folder: Path, machine: str, stated: Stated, who: str, now: datetime) -> Dump:
    """A copy of a file, so that one which still grows is added as it stood, once."""
    source, rough = Path(path), folder / "incoming"
    digest, size = hashlib.sha256(), 0
    try:
        with source.open("rb") as given, _room(rough) as copy:
            while block := given.read(BLOCK):
                digest.update(block)
                size += len(block)
                copy(block)
        modified = source.stat().st_mtime_ns
    except OSError as fault:
        got = "no such file" if isinstance(fault, FileNotFoundError) else (fault.strerror or str(fault))
        raise ReadingError("a log file", got, "check the path", file=source) from None
    dump = Dump(machine, digest.hexdigest(), source.name, size, modified, stated, who, now, given=str(source))
    laid = dump.place(folder)
    laid.parent.mkdir(exist_ok=True)
    shutil.move(rough, laid)
    os.utime(laid, ns=(modified, modified))
    return dump


@contextmanager
def _room(path: Path) -> Iterator[Callable[[bytes], object]]:
    """A file to write to; a disk that is full is said as such, and not as a fault of what is read."""
    with path.open("wb") as file:

        def write(block: bytes) -> None:
            try:
                file.write(block)
                file.flush()
            except OSError as fault:
                raise no_room(fault) from None

        yield write


def no_room(fault: OSError) -> ArchiveError:
    """What is said where copies of the dumps find no place."""
    return ArchiveError(
        "room for copies of the dumps among the temporary files",
        fault.strerror or str(fault),
        "free some space, or name another folder in TMPDIR",
    )


def ledger(lake: Lake, at: Any, machine: str | None = None) -> pl.DataFrame:
    """The rows of the ledger (kind import): one for each dump and month."""
    where = f"kind = {quoted(IMPORT)}" + (f" AND machine = {quoted(machine)}" if machine is not None else "")
    return lake.read(at, RECORD, where).sort("machine", "month", "name", "file")


def dumps_in(rows: pl.DataFrame) -> list[Dump]:
    """The dumps that the ledger names."""
    found = rows.unique("file", keep="first", maintain_order=True).select(_LEDGER_COLUMNS).to_dicts()
    dumps = []
    for row in found:
        stated = Stated(row.pop("profile"), row.pop("profile_text"))
        row.pop("profile_sha256")
        row["months"] = tuple(row["months"].split())
        dumps.append(Dump(stated=stated, **row))
    return dumps


def by_user_names(fault: ReadingError | ProfileError, dumps: Sequence[Dump]) -> ReadingError | ProfileError:
    """The error with the name of the file that the user knows instead of that of its copy."""
    for dump in dumps:
        if fault.file and f"/{dump.file}/" in Path(fault.file).as_posix():
            return type(fault)(fault.wanted, fault.got, fault.remedy, file=dump.given or dump.name, line=fault.line)
    if isinstance(fault, ProfileError) and fault.file:
        return type(fault)(fault.wanted, fault.got, fault.remedy, file=Path(fault.file).name, line=fault.line)
    return fault


def with_span(dump: Dump, months: Sequence[str], first: datetime, last: datetime) -> Dump:
    """The dump with what reading it alone has shown."""
    home = first.strftime("%Y-%m")
    return replace(dump, months=tuple(sorted({home, *months})), home=home, first=first, last=last)
