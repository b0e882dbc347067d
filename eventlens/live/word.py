"""The last word of somebody who follows: a small file that is written anew every few seconds, for whoever looks on.

    STATE/now.json, profile.toml, machine.json           beside the record: how it is, and how it is read
    ARCHIVE/following/SAW-3-1f2e3d4c/now.json, told.jsonl  for whoever sees the archive alone: the same word, and a copy
                                                         of what was told

It is put in its place in one step, so a reader never meets half of one. Whether somebody follows is told by the time of
the word alone: a program that was killed, a computer that was switched off and a disk that is full all fall silent, and
leave a lock or a number of a process behind as it pleases them. Reading changes nothing.
"""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime
from hashlib import blake2b
from pathlib import Path
from typing import Any, Final

from eventlens.archive.place import FOLLOWING, address, folder_of
from eventlens.errors import EventlensError

FORM: Final = 1
"""Of the word; raised where an older program would misread it."""
WORD: Final = "now.json"
TOLD: Final = "told.jsonl"
PROFILE, MACHINE = "profile.toml", "machine.json"
EVERY_S: Final = 5.0
"""So often a word is said [s]; at once where something is told (common practice, no source)."""
SILENT_S: Final = 20.0
"""Nobody follows whose last word is older than this [s]: four words that did not come (common practice, no source)."""
NOTES: Final = 60
"""Latest notes in a word."""
MINUTES: Final = 180
"""Latest minutes of which a word says how many lines came."""


@dataclass(frozen=True)
class Note:
    """Something that happened to the source."""

    at: datetime
    text: str


@dataclass(frozen=True)
class Word:
    """How it is with one record. Instants are by the clock of the computer that follows, unless stated."""

    machine: str
    source: str
    """What is followed, for people."""
    state: str
    """The folder that holds the record."""
    zone: str
    """Of the log."""
    begun: datetime
    """When this program began."""
    at: datetime
    """When this was said."""
    ended: bool = False
    why: str = ""
    """What ended it; empty where somebody asked it to end, or it goes on."""
    came: datetime | None = None
    """When the last line came."""
    record_end: datetime | None = None
    """Stamp of the last record that was looked at, by the machine's clock."""
    lines: int = 0
    """Of the record, its heads among them."""
    looking: datetime | None = None
    """Since when it has been looking at the record; None: it waits for more."""
    trouble: str = ""
    """What stands between it and the source now, as 'not connected'."""
    told: int = 0
    """Number of the last message about a finding."""
    notes: tuple[Note, ...] = ()
    noted: int = 0
    """How many notes there were."""
    minutes: tuple[tuple[int, int], ...] = ()
    """Minutes since 1970 in which it was followed, and how many lines came in each."""
    archive: str = ""
    """Where the record goes; empty: into no archive."""
    wait_s: float = 0.0
    """Records that came so late [s] were put in place."""

    def follows(self, now: datetime) -> bool:
        """Whether somebody follows: he has said so lately, and has not ended."""
        return not self.ended and (now - self.at).total_seconds() <= SILENT_S


@dataclass(frozen=True)
class StateFolder:
    """A folder into which somebody follows, for whoever looks on."""

    path: Path


def board_in(archive: str, machine: str, state: Path) -> Path | None:
    """The folder in an archive for the word about a record; None where the archive lies on an object store."""
    folder = folder_of(address(archive))
    if folder is None:
        return None
    known = blake2b(str(state.absolute()).encode(), digest_size=4).hexdigest()
    return folder / FOLLOWING / f"{re.sub(r'[^A-Za-z0-9-]+', '-', machine)[:60]}-{known}"


def boards(place: Path) -> list[Path]:
    """The folders with a word: of an archive those of everybody who follows into it, of a state folder itself."""
    if is_state(place):
        return [place]
    try:
        return sorted(path for path in (place / FOLLOWING).iterdir() if (path / WORD).is_file())
    except OSError:
        return []


def is_state(place: Path) -> bool:
    """Whether a folder is one that somebody follows into."""
    return (place / WORD).is_file() and (place / "record").is_dir()


def write(word: Word, folder: Path) -> None:
    """Puts a word in the place of the last one, in one step; OSError where that cannot be."""
    folder.mkdir(parents=True, exist_ok=True)
    beside = folder / f"{WORD}.new"
    beside.write_text(json.dumps({"form": FORM, **asdict(word)}, default=datetime.isoformat), "utf-8")
    beside.replace(folder / WORD)


def read(folder: Path) -> Word:
    """The last word; EventlensError where there is none that can be read."""
    try:
        said = json.loads((folder / WORD).read_text("utf-8"))
        if said.pop("form") != FORM:
            raise ValueError("form")
        return _of(said)
    except OSError as fault:
        got = fault.strerror or str(fault)
    except (ValueError, TypeError, KeyError, AttributeError):
        got = "something else"
    raise EventlensError(
        f"the last word (form {FORM}) of somebody who follows", got, "follow anew with this eventlens", file=folder.name
    )


def _of(said: dict[str, Any]) -> Word:
    known = {field.name for field in fields(Word)}
    told = {name: value for name, value in said.items() if name in known}
    for name in ("begun", "at", "came", "record_end", "looking"):
        told[name] = _instant(told.get(name))
    if told["begun"] is None or told["at"] is None:
        raise ValueError("no instant")
    told["notes"] = tuple(Note(datetime.fromisoformat(one["at"]), str(one["text"])) for one in told.get("notes", ()))
    told["minutes"] = tuple((int(at), int(lines)) for at, lines in told.get("minutes", ()))
    for name in ("machine", "source", "state", "zone", "why", "trouble", "archive"):
        told[name] = str(told.get(name, ""))
    return Word(**told)


def _instant(text: str | None) -> datetime | None:
    if text is None:
        return None
    found = datetime.fromisoformat(text)
    return found if found.tzinfo else found.replace(tzinfo=UTC)
