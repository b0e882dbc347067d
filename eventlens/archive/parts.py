"""The bytes of dumps: put into the archive in parts, and laid out again as they were.

Bytes are known to be there by the first part of a dump, which is written with the last of its others or after them. So
a writer that dies between two parts leaves only waste; who adds the dump again writes all of it.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import polars as pl
import pyarrow as pa

from eventlens.archive.dumps import Dump
from eventlens.archive.forms import streamed
from eventlens.archive.lake import Lake, one_of, quoted
from eventlens.archive.tables import DUMPS
from eventlens.errors import ArchiveError

PART_BYTES: Final = 1 << 22
AT_ONCE: Final = 1 << 26
"""Bytes that are given to the store, or asked of it, at once: it holds them some five times over (measured)."""


def keep(lake: Lake, dumps: Sequence[Dump], folder: Path) -> None:
    """Puts the bytes of laid-out dumps into the archive, unless they are there already. They count as added only with
    their rows in the ledger: bytes alone are never read.
    """
    at = lake.made(DUMPS.name)
    for machine, home in sorted({(dump.machine, dump.home) for dump in dumps}):
        here = [dump for dump in dumps if (dump.machine, dump.home) == (machine, home)]
        where = f"machine = {quoted(machine)} AND month = {quoted(home)} AND part = 0"
        where += f" AND {one_of('file', [dump.file for dump in here])}"
        known = set(lake.read(at, DUMPS, where, ["file"])["file"])
        new = [dump for dump in here if dump.file not in known]
        for some, parts in _shares(new):
            lake.append(at, streamed((_part(dump, part, folder) for dump in some for part in parts), DUMPS))


def _shares(dumps: Sequence[Dump]) -> Iterator[tuple[list[Dump], range]]:
    """Which parts of which dumps go together: short dumps side by side, long ones in several shares.

    That with the first part of a dump, by which it is known to be there, is not before all others.
    """
    step = max(AT_ONCE // PART_BYTES, 1)
    short: list[Dump] = []
    room = AT_ONCE
    for dump in dumps:
        if (parts := _parts_of(dump)) > 1:
            for end in range(parts, 0, -step):
                yield [dump], range(max(end - step, 0), end)
        else:
            short.append(dump)
            room -= dump.size
            if room <= 0:
                yield short, range(1)
                short, room = [], AT_ONCE
    if short:
        yield short, range(1)


def _parts_of(dump: Dump) -> int:
    return -(-dump.size // PART_BYTES)


def _part(dump: Dump, part: int, folder: Path) -> pl.DataFrame:
    """A row of tables.DUMPS."""
    with dump.place(folder).open("rb") as file:
        file.seek(part * PART_BYTES)
        data = file.read(PART_BYTES)
    row = (dump.machine, dump.home, dump.file, part, _parts_of(dump), data)
    return pl.DataFrame([row], schema=DUMPS.schema, orient="row")


def lay_out(lake: Lake, dumps: Sequence[Dump], folder: Path) -> None:
    """Writes dumps of the archive into a folder, those that lie there already not again.

    ArchiveError where bytes are missing or are not those that were added.
    """
    missing = [dump for dump in dumps if not dump.place(folder).exists()]
    for machine, home in sorted({(dump.machine, dump.home) for dump in missing}):
        here = {dump.file: dump for dump in missing if (dump.machine, dump.home) == (machine, home)}
        _fetch(lake, machine, home, here, folder)
    for dump in missing:
        path = dump.place(folder)
        if not path.exists() or path.stat().st_size != dump.size:
            raise lost(dump, "not all its bytes are there")
        with path.open("rb") as file:
            if hashlib.file_digest(file, "sha256").hexdigest() != dump.file:
                raise lost(dump, "bytes that are not those that were added")
        os.utime(path, ns=(dump.modified_ns, dump.modified_ns))


def _fetch(lake: Lake, machine: str, home: str, dumps: dict[str, Dump], folder: Path) -> None:
    at = lake.opened(DUMPS.name)
    for dump in dumps.values():
        dump.place(folder).parent.mkdir(exist_ok=True)
    for some, parts in _shares(list(dumps.values())):
        where = f"machine = {quoted(machine)} AND month = {quoted(home)} AND {one_of('file', [d.file for d in some])}"
        where += f" AND part >= {parts.start} AND part < {parts.stop}"
        with lake.said("an archive that can be read"):
            for batch in lake.stream(at, where, "file, part, data"):
                _write(pa.table(batch).to_pylist(), dumps, folder)


def _write(rows: list[dict[str, Any]], dumps: dict[str, Dump], folder: Path) -> None:
    """Parts in any order, whatever lies there of the others."""
    for row in rows:
        path = dumps[row["file"]].place(folder)
        with path.open("r+b" if path.exists() else "wb") as file:
            file.seek(row["part"] * PART_BYTES)
            file.write(row["data"])


def lost(dump: Dump, got: str) -> ArchiveError:
    """What is said of a dump whose bytes are not as they were."""
    return ArchiveError(
        f"the dump '{dump.name}' of {dump.machine} as it was added ({dump.file[:12]})",
        got,
        "restore the archive from a copy, or add the dump again",
    )
