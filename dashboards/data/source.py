"""Where the pages get their machines, weeks and trends from: one review, or an archive."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import TYPE_CHECKING, Final, Protocol

from dashboards.data.history import History
from dashboards.data.week import Review, Week
from dashboards.jobs import Job, Jobs
from eventlens.archive import Archive
from eventlens.errors import ArchiveError, EventlensError, nearest
from eventlens.simulation.yard import STORIES

if TYPE_CHECKING:
    from dashboards.intake import Intake

__all__ = ["Archive", "Building", "Fault", "Kept", "Nothing", "OneReview", "Source", "source_of"]

Fault = EventlensError
"""What a page says in place of itself: wanted, got, remedy."""

WEEKS_KEPT: Final = 6
"""Reviews that stay in memory: a few people look at once, and a busy week takes some hundred megabytes at most."""
AT_ONCE_S: Final = 2.0
"""How long a page waits for weeks that rest on something new; if they take longer it shows what is stored [s]."""


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

    def working(self) -> str | None:
        """What is being made in the background and comes to the pages by itself; None: nothing."""

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

    def working(self) -> str | None:
        """Nothing."""
        return None

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

    def working(self) -> str | None:
        """Nothing."""
        return None

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


class Building(Protocol):
    """Who fills the archive while its pages are served already."""

    def stage(self) -> str | None:
        """What it does now, or why it failed; None: it is done."""


class Kept:
    """The weeks of an archive. What was worked out is kept until the archive changes.

    Weeks that rest on something new are reviewed in the background: pages show what is stored until these are there.
    """

    archived = True
    start = "/machines"
    intake: Intake | None = None

    def __init__(self, archive: Archive, *, demonstration: bool = False, building: Building | None = None) -> None:
        """building: who fills the archive now, its weeks too."""
        self.archive, self._building = archive, building
        self.tour = tuple((story.machine.id, story.about) for story in STORIES) if demonstration else ()
        self.name = "Harrow Quay Stoneworks" if demonstration else archive.address.rstrip("/").rpartition("/")[2]
        self._weeks: OrderedDict[object, Week] = OrderedDict()
        self._history: tuple[object, History] | None = None
        self._reading, self._counting, self._reviewing = Lock(), Lock(), Lock()
        self._jobs = Jobs()
        self._job: Job | None = None

    def machines(self) -> list[str]:
        """The machines that have weeks."""
        return list(self.history().machines)

    def weeks_of(self, machine: str) -> list[str]:
        """The stored weeks with a review, ascending."""
        return self.history().weeks_of(machine)

    def week(self, machine: str | None, week: str | None) -> Week:
        """The review of a stored week, made again from its dumps the first time it is asked for."""
        state, history = self._now()
        name = self.known(machine)
        row = history.stored(name, week)
        key = (state, name, row["week"])
        with self._reading:  # two who ask for one week read it once
            if key not in self._weeks:
                self._weeks[key] = Week(self.archive.review(name, row["start"], row["end"]))
            self._weeks.move_to_end(key)
            while len(self._weeks) > WEEKS_KEPT:
                self._weeks.popitem(last=False)
            return self._weeks[key]

    def history(self) -> History:
        """Trends of the stored weeks, brought up to date where dumps came since."""
        return self._now()[1]

    def _now(self) -> tuple[object, History]:
        """The archive's version and its weeks as they are stored."""
        with self._counting:
            if self._history is None or self._history[0] != self.archive.version():
                self._catch_up()
                version = self.archive.version()
                self._history = version, self._stored()
            return self._history

    def _stored(self) -> History:
        known = self.archive
        trends = known.trends(as_stored=True)
        return History(trends, known.stored_results(), known.stored_weeks(), known.entries())

    def _catch_up(self) -> None:
        """Sees to it that the weeks are reviewed that rest on something new."""
        if self.working() is None:
            self._job = self._jobs.start(self.archive.version(), self.bring_up_to_date)
            self._job.ended.wait(AT_ONCE_S)

    def bring_up_to_date(self, tell: Callable[[str], None]) -> None:
        """Reviews the weeks that rest on something new; whoever comes second finds nothing left to do."""
        with self._reviewing:
            self.archive.bring_up_to_date(progress=tell)

    def working(self) -> str | None:
        """What is being made: by whoever fills the archive, else weeks that rest on something new."""
        if self._building is not None and (stage := self._building.stage()) is not None:
            return stage
        return self._job.stage if self._job is not None and not self._job.done else None

    def known(self, machine: str | None) -> str:
        """The name of a machine, of the only one where none is named; ArchiveError where there is none such."""
        history = self.history()
        if machine is None and len(history.machines) == 1:
            return str(history.machines[0])
        if machine is None or machine not in history.machines:
            remedy = nearest(machine, list(history.machines)) if machine else "choose one on the page Machines"
            raise ArchiveError("a machine of the archive", f"'{machine}'" if machine else "none", remedy)
        return machine


def source_of(
    given: Review | Archive | None, *, demonstration: bool = False, building: Building | None = None
) -> Source:
    """The source for a review, an archive or nothing; demonstration: whether that is the one that eventlens writes;
    building: who fills the archive while it is shown.
    """
    if given is None:
        return Nothing()
    if isinstance(given, Archive):
        return Kept(given, demonstration=demonstration, building=building)
    return OneReview(given)
