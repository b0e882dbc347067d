"""Where the pages get their machines, weeks and trends from: one review, or an archive."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import TYPE_CHECKING, Final, Protocol

from dashboards.data.history import History
from dashboards.data.live import Live, StateFolder, has_followers, live_in
from dashboards.data.single import Nothing, OneRecord, OneReview
from dashboards.data.week import Review, Week
from dashboards.jobs import Job, Jobs
from eventlens.archive import Archive
from eventlens.errors import ArchiveError, EventlensError, nearest
from eventlens.simulation.yard import STORIES

if TYPE_CHECKING:
    from dashboards.intake import Intake

__all__ = ["Archive", "Building", "Fault", "Kept", "Nothing", "OneReview", "Source", "StateFolder", "source_of"]

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
    intake: Intake | None
    """Where visitors bring dumps in; None: nobody does."""
    live: Live | None
    """Who follows machines; None: that cannot be seen from here."""

    @property
    def start(self) -> str:
        """Path of the page that comes first."""

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


class Building(Protocol):
    """Who fills the archive while its pages are served already."""

    def stage(self) -> str | None:
        """What it does now, or why it failed; None: it is done."""


class Kept:
    """The weeks of an archive. What was worked out is kept until the archive changes.

    Weeks that rest on something new are reviewed in the background: pages show what is stored until these are there.
    """

    archived = True
    intake: Intake | None = None

    def __init__(self, archive: Archive, *, demonstration: bool = False, building: Building | None = None) -> None:
        """building: who fills the archive now, its weeks too."""
        self.archive, self._building = archive, building
        self.live = None if demonstration else live_in(archive)
        self.tour = tuple((story.machine.id, story.about) for story in STORIES) if demonstration else ()
        self.name = "Harrow Quay Stoneworks" if demonstration else archive.address.rstrip("/").rpartition("/")[2]
        self._weeks: OrderedDict[object, Week] = OrderedDict()
        self._history: tuple[object, History] | None = None
        self._reading, self._counting, self._reviewing = Lock(), Lock(), Lock()
        self._jobs = Jobs()
        self._job: Job | None = None

    @property
    def start(self) -> str:
        """The machines; while nothing of what is followed is in the archive yet, who follows."""
        return "/live" if self._is_to_come() else "/machines"

    def _is_to_come(self) -> bool:
        """Whether there is no archive yet, but somebody who follows into it."""
        return self.live is not None and has_followers(self.archive) and not any(self.archive.version())

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
        if self._is_to_come():
            raise ArchiveError(
                "weeks of the archive", "none yet", "they come as what is followed is finished; see the page Live"
            )
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
    given: Review | Archive | StateFolder | None, *, demonstration: bool = False, building: Building | None = None
) -> Source:
    """The source for a review, an archive, a folder into which somebody follows, or nothing.

    demonstration: whether the archive is the one that eventlens writes; building: who fills it while it is shown.
    """
    if given is None:
        return Nothing()
    if isinstance(given, Archive):
        return Kept(given, demonstration=demonstration, building=building)
    return OneRecord(given) if isinstance(given, StateFolder) else OneReview(given)
