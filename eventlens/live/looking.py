"""The record of somebody who follows, reviewed by somebody else: as it stands, without a lock, without changing it."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from eventlens.errors import EventlensError
from eventlens.live.spool import read_snapshot
from eventlens.live.word import MACHINE, PROFILE, Word
from eventlens.machine import Machine
from eventlens.reading import Profile
from eventlens.reading.profile import as_profile
from eventlens.result import Review
from eventlens.wiring import review

_BLOCK = 1 << 20


def record_of(state: Path, said: Word) -> Review:
    """The review of what is in a state folder now, read as whoever follows reads it; EventlensError where it cannot be.

    What is written after the snapshot was read is left out: the record is always as long as one snapshot says.
    """
    with TemporaryDirectory(prefix="eventlens-", ignore_cleanup_errors=True) as folder:
        paths = _copied(state, Path(folder))
        if not paths:
            raise EventlensError("a record to review", "nothing that has come yet", "wait for the first lines")
        return review([str(path) for path in paths], *read_by(state, said))


def read_by(state: Path, said: Word) -> tuple[Profile, Machine]:
    """Profile and machine by which a record is followed; EventlensError where they are not there."""
    kept = state / PROFILE
    profile = as_profile(kept if kept.is_file() else None)
    try:
        machine = Machine.model_validate_json((state / MACHINE).read_text("utf-8"))
    except (OSError, ValueError):
        raise EventlensError("what the machine is, beside the record", "nothing", "follow it anew") from None
    return replace(profile, log=profile.log.model_copy(update={"late_s": said.wait_s})), machine


def _copied(state: Path, folder: Path) -> list[Path]:
    """The files of the record, as long as the snapshot says."""
    paths = []
    try:
        for number, piece in enumerate(read_snapshot(state).pieces, 1):
            if not piece.bytes:
                continue
            target = folder / f"{number:06d}" / piece.name
            target.parent.mkdir()
            with (state / "record" / target.parent.name / piece.name).open("rb") as whole, target.open("wb") as part:
                left = piece.bytes
                while left > 0 and (block := whole.read(min(_BLOCK, left))):
                    left -= part.write(block)
            if piece.modified_ns is not None:
                os.utime(target, ns=(piece.modified_ns, piece.modified_ns))
            paths.append(target)
    except OSError as fault:
        raise EventlensError(
            "a record that can be read", fault.strerror or str(fault), "look whether its folder is there"
        ) from None
    return paths
