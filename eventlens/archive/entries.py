"""What people write down beside the log: repairs, exchanged parts, earlier hours, notes, shifts, checks, machine files.

An entry is its time and a text, '2026-04-14T10:00 relay of raise exchanged'. The same entry twice is one entry. What
an entry does in a review is said in `stated`: a review is that of the dumps, of the machine file and of these
statements, and without them that of the dumps alone.
"""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from pathlib import Path
from typing import Final

import polars as pl

from eventlens.archive.faults import ConflictError
from eventlens.archive.lake import Lake, quoted
from eventlens.archive.tables import ENTRIES
from eventlens.causes.facts import load_knowledge
from eventlens.causes.outcomes import checks_in
from eventlens.comparison.cut import instant_of
from eventlens.errors import ArchiveError, EventlensError, nearest
from eventlens.machine import Machine, Work
from eventlens.settings import parse
from eventlens.wiring import machine_of

BEGUN_TOGETHER: Final = 5
"""So often entries are tried to be written where others begin the same archive (common practice): a table is made once.
"""
MACHINE: Final = "machine"
KINDS: Final = {
    "repair": "work that was done on the machine",
    "exchanged": "a part that was exchanged, or two that changed places",
    "earlier_hours": "hours of full load that it had done by then",
    "note": "anything else",
    "shifts": "shifts from then on, as 06:00-14:00 14:00-22:00",
    "check": "outcome of a check on the machine, as relay_seat=negative",
}


def entry(machine: str, kind: str, written: str, timezone: str, who: str, now: datetime) -> pl.DataFrame:
    """tables.ENTRIES of 'TIME text'; a time without an offset is in the zone. EventlensError for anything else."""
    if kind not in KINDS:
        raise EventlensError("a kind of entry", f"'{kind}'", nearest(kind, KINDS))
    stamp, _, text = written.strip().partition(" ")
    text = " ".join(text.split())
    if not text:
        raise EventlensError(
            f"a time and a text for '{kind}', as '2026-04-14T10:00 {_EXAMPLES[kind]}'", f"'{written}'", "write both"
        )
    at = instant_of(stamp, timezone)
    _check(kind, text)
    return _row(machine, kind, at, text, None, who, now)


_EXAMPLES: Final = {
    "repair": "brake adjusted",
    "exchanged": "relay of raise",
    "earlier_hours": "310.5",
    "note": "two crews this week",
    "shifts": "06:00-14:00",
    "check": "relay_seat=negative",
}


def _check(kind: str, text: str) -> None:
    if kind == "earlier_hours":
        try:
            usable = 0 <= float(text) < float("inf")
        except ValueError:
            usable = False
        if not usable:
            raise EventlensError("hours as a number not below zero, as 310.5", f"'{text}'", "correct the entry")
    elif kind == "shifts":
        parse({"shifts": text.replace(",", " ").split()}, Work, EventlensError)
    elif kind == "check":
        checks_in([text], load_knowledge())


def machine_file(lake: Lake, path: Path, who: str, now: datetime) -> tuple[Machine, pl.DataFrame]:
    """A machine file, and its entry: none where it is what the archive holds already."""
    machine = machine_of(path)
    text = path.read_bytes().decode("utf-8-sig")
    latest = latest_machine(entries(lake, machine.id))
    if latest is not None and (latest["name"], latest["text"]) == (path.name, text):
        return machine, ENTRIES.empty()
    return machine, _row(machine.id, MACHINE, now, text, path.name, who, now)


def _row(machine: str, kind: str, at: datetime, text: str, name: str | None, who: str, now: datetime) -> pl.DataFrame:
    return pl.DataFrame(
        [
            {
                "machine": machine,
                "id": identity(machine, kind, at, text, name),
                "kind": kind,
                "at": at,
                "text": text,
                "name": name,
                "who": who,
                "added": now,
            }
        ],
        schema=ENTRIES.schema,
    )


def identity(machine: str, kind: str, at: datetime, text: str, name: str | None) -> str:
    """SHA-256 of what an entry says."""
    said = json.dumps([machine, kind, at.isoformat(), text, name], ensure_ascii=False)
    return hashlib.sha256(said.encode()).hexdigest()


def write(lake: Lake, rows: pl.DataFrame) -> int:
    """Adds entries in one commit; how many of them are new."""
    if rows.is_empty():
        return 0
    for _ in range(BEGUN_TOGETHER):
        at = lake.made(ENTRIES.name)
        known = lake.read(at, ENTRIES)["id"]
        new = rows.unique("id", keep="first", maintain_order=True).filter(~pl.col("id").is_in(known.implode()))
        try:
            if not new.is_empty():
                lake.append(at, new)
            return new.height
        except ConflictError:  # the table was just being made
            continue
    raise ArchiveError(
        "a moment in which no other writer begins the archive",
        f"{BEGUN_TOGETHER} lost races",
        "try again",
        file=lake.root,
    )


def entries(lake: Lake, machine: str | None = None) -> pl.DataFrame:
    """tables.ENTRIES, each entry once (two writers may both have written it), the oldest first."""
    where = "true" if machine is None else f"machine = {quoted(machine)}"
    rows = lake.read(lake.table(ENTRIES.name), ENTRIES, where)
    return rows.sort("machine", "at", "added", "id").unique("id", keep="first", maintain_order=True)


def latest_machine(rows: pl.DataFrame) -> dict[str, str] | None:
    """Name and text of the machine file that holds now, from the entries of a machine."""
    files = rows.filter(pl.col("kind") == MACHINE)
    return None if files.is_empty() else files.select("name", "text").row(-1, named=True)


def machine_now(rows: pl.DataFrame, machine: str, folder: Path) -> Machine:
    """The machine as its file among its entries describes it, or one of which only the name is known."""
    found = latest_machine(rows)
    if found is None:
        return Machine.model_validate({"machine": {"id": machine}})
    path = folder / found["name"]
    path.write_text(found["text"], "utf-8")
    return machine_of(path)
