"""Where the pages get their machines, weeks and trends from: one review, or an archive."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from threading import Lock
from typing import TYPE_CHECKING, Any, Final, Protocol

from dashboards.data.history import History
from dashboards.data.week import Review, Week
from eventlens.archive import Archive
from eventlens.archive import weeks as kept_weeks
from eventlens.archive.tables import ENTRIES, RECORD, REVIEWS, WEEKLY
from eventlens.errors import ArchiveError, EventlensError, nearest
from eventlens.simulation.yard import STORIES

if TYPE_CHECKING:
    from dashboards.intake import Intake

__all__ = ["Archive", "Fault", "Kept", "Nothing", "OneReview", "Source", "source_of"]

Fault = EventlensError
"""What a page says in place of itself: wanted, got, remedy."""

WEEKS_KEPT: Final = 6
"""Reviews that stay in memory: a few people look at once, and a busy week takes some hundred megabytes at most."""


class Source(Protocol):
    """What the pages ask."""

    name: str
    """What it is, for the title."""
    archived: bool
    """Whether it holds weeks of machines, not one review."""
    tour: tuple[tuple[str, str], ...]
    """Of the demonstration each machine and what was put into it; else empty."""
    start: str
    """Path of the page that comes first."""
    intake: Intake | None
    """Where visitors bring dumps in; None: nobody does."""

    def machines(self) -> list[str]:
        """The machines, by name."""

    def week(self, machine: str | None, week: str | None) -> Week:
        """The review of a machine's week; Fault where there is none. Of one log both are always the same."""

    def weeks_of(self, machine: str) -> list[str]:
        """The ISO weeks of a machine that have a review."""

    def history(self) -> History:
        """The weeks of all machines; Fault where there are none."""


class Nothing:
    """No log at all: somebody is going to bring one in."""

    name = "dumps of your own"
    archived = False
    tour: tuple[tuple[str, str], ...] = ()
    start = "/bring"
    intake: Intake | None = None

    def machines(self) -> list[str]:
        """None."""
        return []

    def week(self, machine: str | None, week: str | None) -> Week:
        """None."""
        raise Fault("a log to show", "none", "bring a dump in")

    def weeks_of(self, machine: str) -> list[str]:
        """None."""
        return []

    def history(self) -> History:
        """None."""
        raise Fault("an archive for trends", "none", "start eventlens dashboard with an archive")


class OneReview:
    """One log of one machine."""

    archived = False
    tour: tuple[tuple[str, str], ...] = ()
    start = "/review"
    intake: Intake | None = None

    def __init__(self, review: Review) -> None:
        self._week = Week(review)
        self.name = self._week.facts.machine

    def machines(self) -> list[str]:
        """The machine of the log."""
        return [self.name]

    def week(self, machine: str | None, week: str | None) -> Week:
        """The review, whatever is asked for: an address of another log must not look like this one's."""
        if machine not in (None, self.name) or week is not None:
            raise Fault("an address of the log that is shown", f"{machine} {week or ''}".strip(), "open the start page")
        return self._week

    def weeks_of(self, machine: str) -> list[str]:
        """None: the log is shown as a whole."""
        return []

    def history(self) -> History:
        """None."""
        raise Fault("an archive for trends", "one log", "start eventlens dashboard with an archive")


class Kept:
    """The weeks of an archive. What was worked out is kept until the archive changes."""

    archived = True
    start = "/machines"
    intake: Intake | None = None

    def __init__(self, archive: Archive, *, demonstration: bool = False) -> None:
        self.archive = archive
        self.tour = tuple((story.machine.id, story.about) for story in STORIES) if demonstration else ()
        self.name = "Harrow Quay Stoneworks" if demonstration else archive.lake.root.rstrip("/").rpartition("/")[2]
        self._weeks: OrderedDict[object, Week] = OrderedDict()
        self._history: tuple[object, History] | None = None
        self._reading, self._counting = Lock(), Lock()

    def machines(self) -> list[str]:
        """The machines that have weeks."""
        return list(self.history().machines)

    def weeks_of(self, machine: str) -> list[str]:
        """The stored weeks with a review, ascending."""
        return self.history().weeks_of(machine)

    def week(self, machine: str | None, week: str | None) -> Week:
        """The review of a stored week, made again from its dumps the first time it is asked for."""
        history = self.history()
        name = self.known(machine)
        row = history.stored(name, week)
        key = (self.state(), name, row["week"])
        with self._reading:  # two who ask for one week read it once
            if key not in self._weeks:
                self._weeks[key] = Week(self.archive.review(name, row["start"], row["end"]))
            self._weeks.move_to_end(key)
            while len(self._weeks) > WEEKS_KEPT:
                self._weeks.popitem(last=False)
            return self._weeks[key]

    def history(self) -> History:
        """Trends of the stored weeks, brought up to date where dumps came since."""
        state = self.state()
        with self._counting:
            if self._history is None or self._history[0] != state:
                trends = self.archive.trends()
                lake = self.archive.lake
                weekly = kept_weeks.weekly(kept_weeks.stored(lake, None, ("machine", "week", *WEEKLY)))
                stored = self.archive.stored_weeks()
                self._history = self.state(), History(trends, weekly, stored, self.archive.entries())
            return self._history[1]

    def state(self) -> object:
        """What changes whenever the archive does."""
        tables: Mapping[str, Any] = {table.name: self.archive.lake.table(table.name) for table in _STATE}
        return tuple((name, table.version() if table is not None else None) for name, table in tables.items())

    def known(self, machine: str | None) -> str:
        """The name of a machine, of the only one where none is named; ArchiveError where there is none such."""
        history = self.history()
        if machine is None and len(history.machines) == 1:
            return str(history.machines[0])
        if machine is None or machine not in history.machines:
            remedy = nearest(machine, list(history.machines)) if machine else "choose one on the page Machines"
            raise ArchiveError("a machine of the archive", f"'{machine}'" if machine else "none", remedy)
        return machine


_STATE: Final = (RECORD, ENTRIES, REVIEWS)


def source_of(given: Review | Archive | None, *, demonstration: bool = False) -> Source:
    """The source for a review, an archive or nothing; demonstration: whether that is the one that eventlens writes."""
    if given is None:
        return Nothing()
    return Kept(given, demonstration=demonstration) if isinstance(given, Archive) else OneReview(given)
