"""Is the archive what its ledger says? Each fault is one sentence.

The bytes of every dump are hashed, every month is worked out anew from its dumps and held against what is stored, and
the ledger's counts against both. Stored reviews can be made again at any time and are not looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl

from eventlens.archive.derive import Months
from eventlens.archive.dumps import Dump, dumps_in, ledger
from eventlens.archive.entries import identity
from eventlens.archive.lake import Lake, quoted
from eventlens.archive.parts import lay_out
from eventlens.archive.tables import DUMPS, ENTRIES, EVENT, RECORD, SET_ASIDE, TABLES
from eventlens.errors import EventlensError

_COUNTS = ("rows", "taken", "rejected", "blank", "repeated", "events", "set_aside")


@dataclass(frozen=True)
class Verified:
    """What verifying came to."""

    faults: tuple[str, ...]
    """One sentence each; none: the archive is what its ledger says."""
    notes: tuple[str, ...]
    """What is no fault and worth knowing."""
    machines: int
    dumps: int
    months: int
    events: int
    set_aside: int


def verify(lake: Lake, folder: Path, tell: Callable[[str], None]) -> Verified:
    """Holds the archive against its ledger; folder: where dumps may be laid out."""
    at = lake.opened(RECORD.name)
    faults = list(_files(lake))
    try:
        rows = ledger(lake, at)
    except EventlensError as fault:
        faults.append(f"the ledger cannot be read: {fault}")
        rows = RECORD.empty()
    events = aside = 0
    for machine in rows["machine"].unique().sort():
        mine = rows.filter(pl.col("machine") == machine)
        sound, found = _bytes(lake, dumps_in(mine), mine, folder)
        faults += found
        months = Months(folder)
        for month in mine["month"].unique().sort():
            tell(f"verifying {machine} {month}")
            here = mine.filter(pl.col("month") == month)
            try:
                stored = lake.read(at, RECORD, f"machine = {quoted(machine)} AND month = {quoted(month)}")
                events += int((stored["kind"] == EVENT).sum())
                aside += int((stored["kind"] == SET_ASIDE).sum())
                faults += _month(machine, month, here, stored, months, sound)
            except EventlensError as fault:
                faults.append(f"{machine} {month} cannot be read: {fault}")
    faults += _strays(lake, at, rows) if not rows.is_empty() else ()
    faults += _entries(lake)
    pairs = rows.select("machine", "file").unique()
    return Verified(
        tuple(dict.fromkeys(faults)),
        tuple(_waste(lake, rows)),
        machines=rows["machine"].n_unique(),
        dumps=pairs.height,
        months=rows.select("machine", "month").unique().height,
        events=events,
        set_aside=aside,
    )


def _files(lake: Lake) -> Iterator[str]:
    """Files of the store that are missing or cut off."""
    for name in TABLES:
        if (at := lake.table(name)) is None:
            continue
        for path, written, there in lake.files(at):
            if there is None:
                yield f"The file {path} is missing."
            elif there != written:
                yield f"The file {path} has {there} bytes, {written} were written."


def _bytes(lake: Lake, dumps: list[Dump], rows: pl.DataFrame, folder: Path) -> tuple[list[Dump], list[str]]:
    """The dumps whose bytes are those that were added, and what is wrong with the others or with their ledger."""
    sound, faults = [], []
    for dump in dumps:
        there = set(rows.filter(pl.col("file") == dump.file)["month"])
        if there != set(dump.months):
            gone = ", ".join(sorted(set(dump.months) ^ there))
            faults.append(
                f"{dump.machine}: '{dump.name}' is in the ledger of other months than it has events in: {gone}."
            )
        try:
            lay_out(lake, [dump], folder)
            sound.append(dump)
        except EventlensError as fault:
            faults.append(str(fault))
    return sound, faults


def _month(
    machine: str, month: str, here: pl.DataFrame, stored: pl.DataFrame, months: Months, sound: list[Dump]
) -> Iterator[str]:
    """What is wrong with a month."""
    doubtful = False
    for name, file, *said in here.select("name", "file", "events", "set_aside").iter_rows():
        for kind, wanted in zip((EVENT, SET_ASIDE), said, strict=True):
            got = stored.filter((pl.col("kind") == kind) & (pl.col("file") == file)).height
            if got != wanted:
                doubtful = True
                what = "events" if kind == EVENT else "rows set aside"
                yield f"{machine} {month}: the ledger says {wanted} {what} of '{name}', {got} are there."
    for name, rows, taken, rejected, blank in here.select("name", *_COUNTS[:4]).iter_rows():
        if rows != taken + rejected + blank:
            yield f"{machine} {month}: of {rows} rows of '{name}' the ledger accounts for {taken + rejected + blank}."
    if doubtful or not set(here["file"]) <= {dump.file for dump in sound}:
        return
    anew = pl.concat(months.month(machine, month, sound).pieces())
    if not _of(anew, EVENT).equals(_of(stored, EVENT)):
        yield f"{machine} {month}: the events are not those of its dumps."
    if not _of(anew, SET_ASIDE).equals(_of(stored, SET_ASIDE)):
        yield f"{machine} {month}: the rows set aside are not those of its dumps."
    counted = [
        frame.sort("file").select("file", *_COUNTS) for frame in (anew.filter(pl.col("rows").is_not_null()), here)
    ]
    if not counted[0].equals(counted[1]):
        yield f"{machine} {month}: the counts of the ledger are not those of its dumps."


def _of(rows: pl.DataFrame, kind: str) -> pl.DataFrame:
    return rows.filter(pl.col("kind") == kind).sort("place", "file", "name", "line", nulls_last=True)


def _strays(lake: Lake, at: Any, rows: pl.DataFrame) -> Iterator[str]:
    """Rows of machines and months that the ledger does not know."""
    known = set(rows.select("machine", "month").iter_rows())
    for machine, month in sorted({(part["machine"], part["month"]) for part in at.partitions()} - known):
        where = f"machine = {quoted(machine)} AND month = {quoted(month)}"
        count = lake.read(at, RECORD, where, ["kind"]).height
        yield f"{machine} {month}: {count} rows are there that no entry of the ledger names."


def _entries(lake: Lake) -> Iterator[str]:
    """Hand entries that do not say what they said when they were written."""
    columns = ("machine", "kind", "at", "text", "name")
    try:
        rows = lake.read(lake.table(ENTRIES.name), ENTRIES)
    except EventlensError as fault:
        yield f"the hand entries cannot be read: {fault}"
        return
    for known, *said in rows.select("id", *columns).iter_rows():
        if identity(*said) != known:
            yield f"{said[0]}: the entry '{said[3][:60]}' ({said[1]}) was changed after it was written."


def _waste(lake: Lake, rows: pl.DataFrame) -> Iterator[str]:
    """Dumps whose adding was cut off after their bytes were kept."""
    try:
        kept = lake.read(lake.table(DUMPS.name), DUMPS, columns=["machine", "file"])
    except EventlensError:  # said with the dumps that miss their bytes
        return
    if kept.is_empty():
        return
    if stray := kept.unique().join(rows, on=["machine", "file"], how="anti").height:
        yield (
            f"The bytes of {stray} dump{'s' if stray > 1 else ''} lie there without an entry in the ledger: adding was "
            "cut off, and nothing of it counts until it is added again."
        )
