"""One module for each container of a table. A module has

- `NAME`: what `inspect` calls it;
- `sniff(path, head) -> bool`: whether the file is of this kind, from its first bytes;
- `read(path, profile, like=None) -> RawTable`: the table; `like` is an earlier file of the same dump, whose dialect
  and column names hold where this file has none of its own.

Modules whose name begins with an underscore are shared parts. `LAST` marks the one that is asked after all others,
`UNDELIMITED` those that are not asked where the profile states a delimiter.
"""

from __future__ import annotations

import hashlib
import importlib
import pkgutil
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Protocol, cast

from eventlens.errors import ReadingError
from eventlens.reading.formats._again import without_headers
from eventlens.reading.formats._packed import Source, is_packed
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable
from eventlens.threads import both

HEAD_BYTES = 1 << 16
_BLOCK = 1 << 20


class Format(Protocol):
    """What a module of this folder offers."""

    NAME: str

    def sniff(self, path: Path, head: bytes) -> bool: ...

    def read(self, path: Path, profile: Profile, like: RawTable | None = None) -> RawTable: ...


@cache
def formats() -> tuple[Format, ...]:
    """All formats by name, the general one last; a module with a gap or a name used twice is an error at once."""
    found: dict[str, Format] = {}
    last: list[str] = []
    for info in pkgutil.iter_modules(__path__):
        if info.name.startswith("_"):
            continue
        module = importlib.import_module(f"{__name__}.{info.name}")
        for part in ("NAME", "sniff", "read"):
            if not hasattr(module, part):
                raise TypeError(f"format {info.name} has no '{part}'")
        name = module.NAME
        if name in found:
            raise TypeError(f"two formats are named '{name}'")
        found[name] = cast(Format, module)
        if getattr(module, "LAST", False):
            last.append(name)
    return tuple(found[name] for name in sorted(found, key=lambda name: (name in last, name)))


def read_source(source: Source, profile: Profile, like: RawTable | None = None) -> RawTable:
    """As read_raw, of a file that may have been unpacked: errors and the table carry the name that the user knows."""
    try:
        raw = read_raw(source.path, profile, like, source.origin)
    except ReadingError as fault:
        if fault.file != str(source.path) or source.path == source.shown:
            raise
        raise ReadingError(fault.wanted, fault.got, fault.remedy, file=source.shown, line=fault.line) from None
    if source.path == source.shown:
        return raw
    return replace(raw, path=source.shown, notes=(*source.notes, *raw.notes))


def is_known(path: Path) -> bool:
    """Whether a file that is there is of a known format."""
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    return any(format_.sniff(path, head) for format_ in formats())


def container_of(path: Path) -> str | None:
    """Name of the container of a file, 'packed' for one that holds other files; None for none that is known."""
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if is_packed(head):
        return "packed"
    return next((format_.NAME for format_ in formats() if format_.sniff(path, head)), None)


def read_raw(path: Path, profile: Profile, like: RawTable | None = None, origin: Path | None = None) -> RawTable:
    """The file as a raw table; ReadingError if it is missing, empty or of no known format.

    origin: the file that the user named, where this one came out of it.
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError as fault:
        got = "no such file" if isinstance(fault, FileNotFoundError) else (fault.strerror or str(fault))
        raise ReadingError("a log file", got, "check the path", file=path) from None
    if not head:
        raise ReadingError("a log", "an empty file", "export the dump again", file=path)
    for format_ in formats():
        if profile.log.delimiter and getattr(format_, "UNDELIMITED", False):
            continue
        if format_.sniff(path, head):
            return _read_and_hashed(format_, path, profile, like, origin or path)
    known = ", ".join(format_.NAME for format_ in formats())
    raise ReadingError(f"one of: {known}", "a binary file of another kind", "export the dump as text", file=path)


def _read_and_hashed(format_: Format, path: Path, profile: Profile, like: RawTable | None, origin: Path) -> RawTable:
    """The table with the hash of the file that the user named, both at once; a note where that was written to."""
    size = origin.stat().st_size
    sha256, raw = both(
        lambda: _fingerprint(origin, size),
        lambda: without_headers(format_.read(path, profile, like)),
        path.stat().st_size,
    )
    now = origin.stat().st_size
    if now != size:
        grown = f"The file went from {size} to {now} bytes while it was read: its hash is of the first {size}, "
        raw = replace(raw, notes=(*raw.notes, grown + "and rows behind them may be cut off or missing; read it again."))
    return replace(raw, sha256=sha256)


def _fingerprint(path: Path, size: int) -> str:
    """SHA-256 of the first bytes of a file."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while size > 0 and (block := file.read(min(size, _BLOCK))):
            digest.update(block)
            size -= len(block)
    return digest.hexdigest()
