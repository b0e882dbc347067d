"""How late records may come is a property of the record: who goes on with it, and an archive that holds it, must put
them in place as whoever began it did, else both say something else than he.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import tomli_w

from eventlens.errors import EventlensError
from eventlens.live import word
from eventlens.live.spool import read_snapshot


def wait_of(state: Path, given: float | None, *, archived: bool) -> float | None:
    """The wait [s] with which a record goes on: the one that is given, else the one it was followed with so far; None:
    as the profile says.

    archived: the record goes into an archive, where all of it must be read in one way; EventlensError where another
    wait is given than it was begun with, and the archive has, or will have, some of it.
    """
    before = read_snapshot(state)
    if given is None or given == before.wait_s:
        return before.wait_s
    if before.pieces and (archived or before.archived or _was_archived(state)):
        begun = "the one of its profile" if before.wait_s is None else f"{before.wait_s:g} s"
        raise EventlensError(
            f"the wait with which this record was begun, {begun}",
            f"--wait {given:g}",
            "leave it out, or begin anew with another folder for --state and another archive",
        )
    return given


def _was_archived(state: Path) -> bool:
    try:
        return bool(word.read(state).archive)
    except EventlensError:
        return False


def profile_with(profile: Path | None, wait_s: float | None, state: Path) -> Path | None:
    """The profile as it goes into an archive: with the wait, which is its late_s, written into a file of the state
    folder; the given one where no wait is stated. It was read before: it may be so."""
    if wait_s is None:
        return profile
    said = {} if profile is None else tomllib.loads(profile.read_bytes().decode("utf-8-sig"))
    said["log"] = {**said.get("log", {}), "late_s": wait_s}
    kept = state / "stated" / ("profile.toml" if profile is None else profile.name)
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.write_text(tomli_w.dumps(said), "utf-8")
    return kept
