"""What was followed goes into an archive, in pieces that are finished: each line once, in dumps with the head of their
file.

A piece ends where a file of the record ends, or at a cut (`tail.Cut`): there the records before stand before those
after, at an earlier instant, in an unbroken stretch, so that the archive can tell how its dumps follow each other.
Where a piece ends is written down before it is added. Whoever dies in between adds the very same bytes again, and a
dump that is there already changes nothing. What comes after the last cut is added at the end; the piece that is cut
there later holds it again, which an archive sees.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from eventlens.archive import Archive
from eventlens.archive.entries import machine_now
from eventlens.errors import ArchiveError
from eventlens.live.spool import Spool
from eventlens.live.tail import Cut, offset_of
from eventlens.machine import Machine
from eventlens.wiring import machine_of

_BLOCK: Final = 1 << 20


@dataclass(frozen=True)
class Keeper:
    """Where the record goes: an archive, the machine (its file, or its name in the archive), and how dumps are read."""

    archive: str
    machine: str
    profile: Path | None = None

    def some(self, spool: Spool, cut: Cut | None, first_lines: Sequence[int]) -> int:
        """Adds what is finished; how many dumps. first_lines: the physical line of the first data line of each file."""
        done = spool.snapshot.archived
        last = len(spool.paths) - 1
        end = (cut.piece, cut.offset) if cut is not None else (last, 0)
        until = tuple(done.get("until") or end)
        if until <= (done.get("piece", 0), done.get("offset", 0)):
            return 0
        if "until" not in done:
            spool.keep(replace(spool.snapshot, archived={**done, "until": list(until)}))
        added = self._add(spool, (int(until[0]), int(until[1])), first_lines)
        kept = {"piece": until[0], "offset": until[1], "number": done.get("number", 0) + added}
        spool.keep(replace(spool.snapshot, archived=kept))
        return added

    def all(self, spool: Spool, first_lines: Sequence[int]) -> int:
        """Adds all that is not in the archive yet; what is cut off later holds it again."""
        last = len(spool.paths) - 1
        return self._add(spool, (last, spool.paths[last].stat().st_size), first_lines)

    def _add(self, spool: Spool, until: tuple[int, int], first_lines: Sequence[int]) -> int:
        done, paths = spool.snapshot.archived, spool.paths
        at, offset, number = (int(done.get(name, 0)) for name in ("piece", "offset", "number"))
        with TemporaryDirectory(prefix="eventlens-", ignore_cleanup_errors=True) as folder:
            laid = []
            while at <= until[0]:
                end = until[1] if at == until[0] else paths[at].stat().st_size
                if end > max(offset, offset_of(paths[at], first_lines[at])):  # a head alone is no dump
                    number += 1
                    laid.append(_lay_out(paths[at], offset, end, first_lines[at], Path(folder) / f"{number:06d}"))
                at, offset = at + 1, 0
            if laid:
                Archive(self.archive).add([str(path) for path in laid], self.machine, self.profile)
        return len(laid)


def machine_in(given: str | None, archive: str | None) -> Machine:
    """The machine that a file describes, or the one of that name as the archive knows it; None: nothing is stated."""
    if given is None or archive is None or given.endswith(".toml") or Path(given).is_file():
        return machine_of(given)
    with TemporaryDirectory(prefix="eventlens-", ignore_cleanup_errors=True) as folder:
        kept = Archive(archive)
        try:
            written = kept.entries(given)
        except ArchiveError:  # there is no archive yet: it is made with the first dump
            return Machine.model_validate({"machine": {"id": given}})
        return machine_now(written, given, Path(folder))


def _lay_out(path: Path, begin: int, end: int, first_line: int, folder: Path) -> Path:
    """A part of a file as a file of its own, with the head of the whole one."""
    folder.mkdir()
    target = folder / f"{path.stem}-{folder.name}{path.suffix}"
    head = offset_of(path, first_line)
    with path.open("rb") as whole, target.open("wb") as part:
        if begin:
            part.write(whole.read(head))
        whole.seek(begin)
        while (left := end - whole.tell()) > 0 and (block := whole.read(min(_BLOCK, left))):
            part.write(block)
    there = path.stat()
    os.utime(target, ns=(there.st_atime_ns, there.st_mtime_ns))
    return target
