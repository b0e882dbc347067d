"""Sources of one log: none at all, one review, or one record that is followed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboards.data.history import History
from dashboards.data.live import Live, StateFolder
from dashboards.data.week import Review, Week
from eventlens.errors import EventlensError as Fault

if TYPE_CHECKING:
    from dashboards.intake import Intake


class _Alone:
    """What is shown as a whole: there are no weeks of it, and nothing is made in the background."""

    archived = False
    tour: tuple[tuple[str, str], ...] = ()
    intake: Intake | None = None
    live: Live | None = None

    def working(self) -> str | None:
        """Nothing."""
        return None

    def weeks_of(self, machine: str) -> list[str]:
        """None."""
        return []


class Nothing(_Alone):
    """No log at all: somebody is going to bring one in."""

    name = "dumps of your own"
    start = "/bring"

    def machines(self) -> list[str]:
        """None."""
        return []

    def week(self, machine: str | None, week: str | None) -> Week:
        """None."""
        raise Fault("a log to show", "none", "bring a dump in")

    def history(self) -> History:
        """None."""
        raise Fault("an archive for trends", "none", "start eventlens dashboard with an archive")


class OneReview(_Alone):
    """One log of one machine."""

    start = "/review"

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

    def history(self) -> History:
        """None."""
        raise Fault("an archive for trends", "one log", "start eventlens dashboard with an archive")


class OneRecord(_Alone):
    """One record that is followed, as it lies in its state folder."""

    start = "/live"

    def __init__(self, state: StateFolder) -> None:
        self.live = self._live = Live(state.path)
        self.name = self._live.followers()[0].machine

    def machines(self) -> list[str]:
        """The machine that is followed."""
        return [self.name]

    def week(self, machine: str | None, week: str | None) -> Week:
        """The review of the record, as it was when it was asked for last."""
        if machine not in (None, self.name) or week is not None:
            raise Fault(
                "an address of the record that is shown", f"{machine} {week or ''}".strip(), "open the start page"
            )
        return self._live.week(self._live.key(), None)

    def history(self) -> History:
        """None."""
        raise Fault("an archive for trends", "one record", "follow into an archive")
