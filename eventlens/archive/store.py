"""The archive of one or many machines: the way in for Python and for the command line."""

from __future__ import annotations

import getpass
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import polars as pl

from eventlens.archive import entries, export, verify, views, works
from eventlens.archive.adding import Added, add_dumps
from eventlens.archive.derive import read_dumps
from eventlens.archive.dumps import Dump, Stated, dumps_in, ledger, take
from eventlens.archive.parts import lay_out
from eventlens.archive.period import Instant, bounds, nothing_in, review_period, window
from eventlens.archive.spans import one_profile, touched_by, zone_of
from eventlens.archive.tables import ENTRIES, RECORD
from eventlens.archive.views import COLUMNS
from eventlens.archive.weekly import Progress, Weekly, room
from eventlens.comparison import Comparison, compare_log
from eventlens.comparison.moved import exchange
from eventlens.errors import ArchiveError, EventlensError, nearest
from eventlens.machine import Machine
from eventlens.reading import Log
from eventlens.result import Review
from eventlens.statistics.rates import LEVEL
from eventlens.wiring import machine_of

Given = str | Path | Machine
"""A machine: its name in the archive, a machine file, or a Machine."""


@dataclass(frozen=True)
class AddedAll:
    """What one call of add came to."""

    dumps: Added
    entries: int
    """Hand entries that are new, the machine file among them."""

    @property
    def said(self) -> str:
        """One sentence: what is new, and what was there already."""
        found = self.dumps
        months = f", {found.events} events in {', '.join(found.months)}" if found.new else ""
        return (
            f"{found.machine}: {_counted(len(found.new), 'new dump')}{months}; "
            f"{len(found.known)} known already; {_counted(self.entries, 'new entry', 'new entries')}"
        )


class Archive(Weekly):
    """The history of machines, in a folder or at an address that Delta Lake takes (s3://..., az://..., gs://...).

    Nothing is opened before it is asked for. Several programs may use one archive at the same time, each method sees
    it as it is at that moment. Errors are one sentence: ArchiveError, or those of reading and of the machine file.
    """

    def add(
        self,
        paths: str | Path | Sequence[str | Path] = (),
        machine: Given | None = None,
        profile: str | Path | None = None,
        *,
        notes: Mapping[str, Sequence[str]] | None = None,
        who: str | None = None,
        progress: Progress | None = None,
    ) -> AddedAll:
        """Adds dumps of one machine and hand entries. A dump or an entry that is there already changes nothing.

        All dumps are added in one commit or none is. profile: how they are read, as for review; the same dump with
        another profile is read anew. notes: by kind (entries.KINDS) texts as '2026-04-14T10:00 brake adjusted'.
        who: who adds them; else the user of this computer.
        """
        given = [paths] if isinstance(paths, str | Path) else list(paths)
        tell, who, now = progress or (lambda stage: None), who or _user(), datetime.now(UTC)
        stated = Stated.of(profile)
        with room() as folder:
            name, written = self._machine(machine, who, now)
            zone = stated.profile(folder).log.timezone if stated.text else self._zone(name, folder)
            said = [
                entries.entry(name, kind, text, zone or "UTC", who, now)
                for kind, texts in (notes or {}).items()
                for text in texts
            ]
            taken = [take(path, folder, name, stated, who, now) for path in given]
            done = add_dumps(self.lake, name, taken, folder, tell) if taken else Added(name, (), (), 0, ())
            return AddedAll(done, entries.write(self.lake, pl.concat([written, *said])))

    def events(self, machine: str, start: Instant = None, end: Instant = None) -> pl.DataFrame:
        """machine, time, signal, value, name, line, file of the events in [start, end), in the order of the record.

        Only the months of the period are read. Instants as for review.
        """
        zone = "UTC"
        if any(isinstance(given, str) for given in (start, end)):
            with room() as folder:
                zone = self._zone(machine, folder)
        rows = views.events(self.lake, machine, *bounds(start, end, zone))
        if rows.is_empty():
            self.known(machine)
        return rows

    def set_aside(self, machine: str) -> pl.DataFrame:
        """The rows that were not understood, with file, line and reason."""
        return views.set_aside(self.lake, self.known(machine))

    def review(
        self,
        machine: Given | None = None,
        start: Instant = None,
        end: Instant = None,
        profile: str | Path | None = None,
        *,
        checked: Sequence[str] = (),
        knowledge: str | Path | None = None,
        progress: Progress | None = None,
    ) -> Review:
        """The review of a machine from `start` up to, but not including, `end`; byte for byte that of the dumps, with
        the same statements where people wrote some down (archive.stated).

        It reads the dumps that have records in the period as `eventlens.review` reads them, and cuts them to it.
        machine: a name, then the machine file of the archive holds; or a machine file, or a
        Machine; None: the only one there is. Instants are
        datetimes or ISO 8601 text, without an offset in the zone of the log.
        """
        tell = progress or (lambda stage: None)
        with room() as folder:
            machine = self.only() if machine is None else machine
            name = self._name(machine)
            written = self.entries(name)
            plate = entries.machine_now(written, name, folder) if _is_name(machine) else machine_of(machine)
            tell("reading")
            log = self._log(name, start, end, profile, folder)
        return review_period(
            log, plate, start, end, entries=written, checked=checked, knowledge=knowledge, progress=progress
        )

    def compare(
        self,
        machine: str | None = None,
        *,
        at: Instant = None,
        until: Instant = None,
        repair: str | None = None,
        moved: Sequence[str] = (),
        confidence: float = LEVEL,
        progress: Progress | None = None,
    ) -> Comparison:
        """A machine before a repair against it afterwards; see eventlens.compare.

        at: when it was; then the whole log is cut there. None: the latest repair or exchange that people wrote down
        and that has log on both sides, or the one that `repair` chooses: its number (1: the latest) or its day, as
        2026-04-14. The log then reaches from the work before it to the next. ArchiveError where there is none.
        """
        for text in moved:
            exchange(text)  # a slip of the pen is said before the work, not after it
        if at is not None and repair is not None:
            raise EventlensError("the time of a repair, or one that is written down", "both", "leave one of them out")
        name = self.only() if machine is None else self.known(machine)
        written, dumps = self.entries(name), dumps_in(self._rows(name))
        given: dict[str, Any] = {"moved": moved, "confidence": confidence, "progress": progress}
        (progress or (lambda stage: None))("reading")
        with room() as folder:
            plate, zone = entries.machine_now(written, name, folder), zone_of(dumps, folder)
            if at is not None:
                return compare_log(self._log(name, None, None, None, folder), plate, at, until, **given)
            first, last = _extent(dumps)
            known = works.works_in(written, first, last)
            if not known:
                raise works.none_written(written, name, first, last, zone)
            work = works.chosen(known, repair or "1", name, zone)
            log = self._log(name, work.start, work.end, None, folder)
        found = compare_log(window(log, work.start, work.end), plate, work.at, until, **given)
        return replace(found, notes=(*works.notes(work, known, zone), *found.notes))

    def repairs(self, machine: str) -> tuple[list[works.Work], str]:
        """Repairs and exchanges that people wrote down and that have log on both sides, the latest first: what compare
        can be asked for; and the zone in which its times are read."""
        dumps = dumps_in(self._rows(machine))
        with room() as folder:
            return works.works_in(self.entries(machine), *_extent(dumps)), zone_of(dumps, folder)

    def verify(self, progress: Progress | None = None) -> verify.Verified:
        """Holds everything against the ledger; each fault is one sentence."""
        with room() as folder:
            return verify.verify(self.lake, folder, progress or (lambda stage: None))

    def sweep(self) -> int:
        """Deletes files that nothing has needed for a week; how many."""
        self.lake.opened(RECORD.name)
        return self.lake.sweep()

    def export(
        self,
        target: str | Path,
        table: str = "events",
        machine: str | None = None,
        start: Instant = None,
        end: Instant = None,
    ) -> int:
        """Writes a table (COLUMNS) as .parquet, .csv or, events only, .xes; how many rows. Instants as
        for events, of several machines in UTC."""
        target = Path(target)
        if table not in COLUMNS:
            raise ArchiveError("a table of the archive", f"'{table}'", nearest(table, COLUMNS))
        export.check_suffix(target, events=table == "events")
        self.lake.opened(RECORD.name)
        names = self.machines() if machine is None else [self.known(machine)]
        with room() as folder:
            zone = self._zone(names[0], folder) if len(names) == 1 else "UTC"
        parts = views.parts(self.lake, table, names, *bounds(start, end, zone))
        return export.export(parts, views.empty(table), target)

    def _log(self, name: str, start: Instant, end: Instant, profile: str | Path | None, folder: Path) -> Log:
        known = dumps_in(self._rows(name))
        stated = Stated.of(profile)
        zone = (stated.profile(folder).log.timezone or "UTC") if stated.text else zone_of(known, folder)
        touching = touched_by(known, *bounds(start, end, zone))
        if not touching:
            raise nothing_in(min(d.first for d in known if d.first), max(d.last for d in known if d.last), zone)
        if stated.text:
            touching = [Dump(**{**dump.__dict__, "stated": stated}) for dump in touching]
        one_profile(touching)
        lay_out(self.lake, touching, folder)
        return read_dumps(touching, folder)

    def _rows(self, machine: str) -> pl.DataFrame:
        rows = ledger(self.lake, self.lake.opened(RECORD.name), machine)
        if rows.is_empty():
            self.known(machine)
            raise ArchiveError(f"dumps of {machine}", "entries only", "add a dump first", file=self.lake.root)
        return rows

    def _zone(self, machine: str, folder: Path) -> str:
        return zone_of(dumps_in(ledger(self.lake, self.lake.table(RECORD.name), machine)), folder)

    def _machine(self, given: Given | None, who: str, now: datetime) -> tuple[str, pl.DataFrame]:
        """Name of the machine, and the entry of its file where that is new."""
        if given is None:
            raise ArchiveError(
                "the machine whose dumps they are", "nothing", "name it, or give its machine file, with --machine"
            )
        if _is_name(given) or isinstance(given, Machine):
            return self._name(given), ENTRIES.empty()
        machine, written = entries.machine_file(self.lake, Path(given), who, now)
        return machine.id, written

    @staticmethod
    def _name(given: Given) -> str:
        if isinstance(given, Machine):
            return given.id
        return str(given) if _is_name(given) else machine_of(given).id


def _extent(dumps: Sequence[Dump]) -> tuple[datetime, datetime]:
    """First and last instant of the log of a machine."""
    return min(d.first for d in dumps if d.first), max(d.last for d in dumps if d.last)


def _counted(number: int, one: str, several: str | None = None) -> str:
    """So many of something."""
    return f"{number} {one if number == 1 else several or one + 's'}"


def _is_name(given: Given) -> bool:
    """A machine file is a path that ends in .toml, or that is there; anything else names a machine."""
    return isinstance(given, str) and not given.endswith(".toml") and not Path(given).is_file()


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # a process without a user, as in a container
        return "unknown"
