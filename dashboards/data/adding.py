"""A dump that was brought in goes into the archive: what that would do, doing it, and what came of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import polars as pl

from dashboards import words
from dashboards.data.source import Kept, Source
from eventlens.errors import EventlensError
from eventlens.machine import Machine
from eventlens.wiring import machine_of

__all__ = ["UNNAMED", "Adding", "Plan", "Taken", "adding_to"]

UNNAMED: Final = Machine().machine.id
"""What a machine is called that nobody has named."""


@dataclass(frozen=True)
class Plan:
    """What adding a dump would do."""

    machine: str
    """Name of the machine; empty where it is not named, so that nothing can be added."""
    known: bool
    """Whether the archive knows the machine."""
    plate: str
    """'new', 'same' or 'other': its machine file beside the one that the archive holds."""
    held: bool
    """Whether the archive holds every file of the dump already, read with the same profile."""


@dataclass(frozen=True)
class Taken:
    """What adding came to."""

    machine: str
    said: tuple[str, ...]
    """First as `eventlens archive add` says it; then what was a repeat."""
    accounts: tuple[str, ...]
    """A sentence for each file: its rows, and what became of them."""
    weeks: tuple[str, ...]
    """The weeks of the dump that have a review."""


@dataclass(frozen=True)
class Adding:
    """The archive to which visitors may add what they bring in."""

    source: Kept
    who: str | None = None
    """Who is written down as the one who adds; None: the user of this computer."""

    def plan(self, hashes: Sequence[str], profile: Path | None, plate: Path | None) -> Plan:
        """What adding would do. hashes: SHA-256 of the files."""
        name = machine_of(plate).id if plate else UNNAMED
        if name == UNNAMED or plate is None:
            return Plan("", known=False, plate="new", held=False)
        entries = self.source.archive.entries(name)
        files = entries.filter(pl.col("kind") == "machine")["text"]
        text = plate.read_bytes().decode("utf-8-sig")
        there = "new" if files.is_empty() else "same" if files[-1] == text else "other"
        ledger = self._ledger(name, hashes, profile)
        known = bool(entries.height) or not self.source.archive.imports(name).is_empty()
        return Plan(name, known, there, held=ledger["file"].n_unique() == len(set(hashes)))

    def add(
        self, paths: Sequence[Path], profile: Path | None, plate: Path, *, with_plate: bool, tell: Callable[[str], None]
    ) -> tuple[str, ...]:
        """Adds the files and brings the machine's weeks up to date; what is to be said of it. All of them or none; what
        is there already changes nothing, so that doing it again after a break does no harm.

        with_plate: whether the machine file goes in too; else the one that the archive holds goes on holding.
        """
        name = machine_of(plate).id
        if name == UNNAMED:
            raise EventlensError(
                "the name of the machine", "none", "fill it in under 'The machine' and review it again"
            )
        tell("adding it to the archive")
        before = self._repeated(name)
        done = self.source.archive.add(paths, plate if with_plate else name, profile, who=self.who, progress=tell)
        self.source.bring_up_to_date(tell)
        repeated = self._repeated(name) - before if done.dumps.new else 0
        twice = words.counted(repeated, "row stands", "rows stand")
        more = (f"{twice} in another dump of the machine too: counted once",) if repeated > 0 else ()
        return done.said, *more

    def _repeated(self, name: str) -> int:
        """Rows of the machine's dumps that stand in two of them."""
        return int(self.source.archive.imports(name).unique("file")["repeated"].sum())

    def taken(self, said: Sequence[str], hashes: Sequence[str], profile: Path | None, plate: Path) -> Taken:
        """What the archive holds of a dump now. said: what was said when it was added, or that it was there."""
        name = machine_of(plate).id
        ledger = self._ledger(name, hashes, profile)
        accounts = [_account(row) for row in _by_file(ledger).iter_rows(named=True)]
        weeks = self.source.archive.stored_weeks(name)
        first, last = ledger["first"].min(), ledger["last"].max()
        shown = weeks.filter(pl.col("why").is_null() & (pl.col("start") <= last) & (pl.col("end") > first))
        return Taken(name, tuple(said), tuple(accounts), tuple(shown["week"]))

    def _ledger(self, name: str, hashes: Sequence[str], profile: Path | None) -> pl.DataFrame:
        """The ledger's rows of these files, read with this profile."""
        rows = self.source.archive.imports(name).filter(pl.col("file").is_in(list(hashes)))
        text = profile.read_bytes().decode("utf-8-sig") if profile else None
        return rows.filter(pl.col("profile_text").eq_missing(pl.lit(text)))


def adding_to(source: Source, *, own: bool, visitors: bool) -> Adding | None:
    """Whether and as whom visitors add to the archive that is shown.

    own: the pages answer to this computer only, to whose user the archive belongs; visitors: the others may as well.
    """
    if not isinstance(source, Kept) or not (own or visitors):
        return None
    return Adding(source, None if own else "a visitor of the pages")


def _by_file(ledger: pl.DataFrame) -> pl.DataFrame:
    """A row for each file: the ledger has one for each of its months, with the account of the whole file in it."""
    return ledger.group_by("file", maintain_order=True).agg(pl.col("name", "rows", "taken", "rejected", "blank").max())


def _account(row: dict[str, object]) -> str:
    counts = {name: int(str(row[name])) for name in ("rows", "taken", "rejected", "blank")}
    more = [
        f"{counts[name]:,} {text}" for name, text in (("rejected", "set aside"), ("blank", "blank")) if counts[name]
    ]
    understood = f"{counts['taken']:,} understood"
    return f"{row['name']}: {words.counted(counts['rows'], 'row')}, {', '.join([understood, *more])}."
