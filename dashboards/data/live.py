"""Who follows machines, and what was told: from the words that followers write (eventlens.live.word). Nothing here
writes, asks a follower, or holds a lock of his.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Lock
from typing import Any, Final
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from dashboards.data import _word
from dashboards.data._told import Journal, clock, told
from dashboards.data.week import Week
from dashboards.following import Follower, LiveView
from eventlens.archive import Archive
from eventlens.archive.place import FOLLOWING, folder_of
from eventlens.cautions import GENERAL
from eventlens.errors import EventlensError, nearest, printable
from eventlens.live import word
from eventlens.live.looking import record_of
from eventlens.live.word import Word

__all__ = ["Live", "StateFolder"]

SHOWN: Final = 100
"""Findings on the page; all of them are in the review."""
NOTES_SHOWN: Final = 20
DRAWN_S: Final = 10
"""So often the chart of an open page is drawn anew [s]."""
REVIEWS_KEPT: Final = 2
"""Reviews of records so far that stay in memory."""
StateFolder = word.StateFolder


@dataclass
class _Reviewed:
    """A review of a record so far."""

    made: datetime
    week: Week


class Live:
    """Everybody who follows into one archive, or into one state folder."""

    cautions: tuple[str, ...] = GENERAL
    """What holds before anybody touches a machine."""

    def __init__(
        self, place: Path, archive: Archive | None = None, now: Callable[[], datetime] = lambda: datetime.now(UTC)
    ) -> None:
        """archive: it holds, or will hold, what is followed; now: what time it is."""
        self._place, self._archive, self.now = place, archive, now
        self._journals: dict[str, Journal] = {}
        self._until: tuple[object, dict[str, datetime]] | None = None
        self._reviews: dict[str, _Reviewed] = {}
        self._reading, self._reviewing = Lock(), Lock()

    @property
    def where(self) -> str:
        """What is shown, for a sentence of how somebody begins to follow."""
        return self._archive.address if self._archive is not None else str(self._place)

    def followers(self, machine: str | None = None) -> list[Follower]:
        """Everybody who follows or did, of one machine or of all: by machine, who spoke last first."""
        known = [_word.follower(folder.name, said, self.now()) for folder, said in self._words()]
        known = [one for one in known if machine in (None, one.machine)]
        return sorted(sorted(known, key=lambda one: one.at, reverse=True), key=lambda one: one.machine)

    def view(self, machine: str | None, key: str | None) -> LiveView:
        """What is shown of one record: that of a key, else of whoever spoke last of the machine; Fault where there is
        none."""
        folder, said = self._chosen(machine, key)
        now = self.now()
        with self._reading:
            journal = self._journals.setdefault(folder.name, Journal(folder / word.TOLD))
            journal.read()
            latest = list(journal.found.values())[-SHOWN:]
            count, asks = journal.count, journal.severities()
        found = tuple(told(one, said.zone, self._leads(folder.name, said)) for one in reversed(latest))
        return LiveView(
            follower=_word.follower(folder.name, said, now),
            zone=said.zone,
            facts=_word.facts(said, now),
            told=found,
            earlier=count - len(found),
            asks=asks,
            notes=tuple((clock(one.at, said.zone), printable(one.text)) for one in reversed(said.notes[-NOTES_SHOWN:])),
            earlier_notes=max(said.noted - NOTES_SHOWN, 0),
            arrivals=_word.arrivals(said, found, now),
            review=self._review_at(folder.name, said, now.replace(second=0, microsecond=0)),
            moment=int(now.timestamp()) // DRAWN_S,
        )

    def week(self, key: str, after: str | None) -> Week:
        """The review of a record so far, not older than an instant (ISO 8601; None: any); Fault where there is none."""
        wanted = self._instant(after)
        said = self._chosen(None, key)[1]
        with self._reviewing:  # two who ask for one review it once
            kept = self._reviews.get(key)
            if kept is None or kept.made < wanted:
                kept = _Reviewed(self.now(), Week(record_of(Path(said.state), said)))
                self._reviews.pop(key, None)
                self._reviews[key] = kept
                for old in list(self._reviews)[:-REVIEWS_KEPT]:
                    del self._reviews[old]
            return kept.week

    def key(self) -> str:
        """The key of whoever spoke last; Fault where nobody ever did."""
        return self._chosen(None, None)[0].name

    def _instant(self, text: str | None) -> datetime:
        """The instant of an address; Fault for one that is none, or is still to come."""
        try:
            found = datetime.fromisoformat(text or "1970-01-01T00:00:00+00:00").astimezone(UTC)
        except (ValueError, OverflowError, OSError):
            found = datetime.max.replace(tzinfo=UTC)
        if found > self.now() + timedelta(minutes=1):
            raise EventlensError("an instant that was, in the address", f"'{text}'", "open the page Live again")
        return found

    def _words(self) -> list[tuple[Path, Word]]:
        """Each folder with its last word; one that cannot be read is left out."""
        found = []
        for folder in word.boards(self._place):
            try:
                found.append((folder, word.read(folder)))
            except EventlensError:
                continue
        return found

    def _chosen(self, machine: str | None, key: str | None) -> tuple[Path, Word]:
        words = self._words()
        if not words:
            raise EventlensError("somebody who follows", "nobody", "begin with eventlens follow")
        if machine is not None and all(said.machine != machine for _, said in words):
            known = sorted({said.machine for _, said in words})
            raise EventlensError("a machine that is or was followed", f"'{machine}'", nearest(machine, known))
        here = [one for one in words if machine in (None, one[1].machine) and key in (None, one[0].name)]
        if not here:
            raise EventlensError("a record that is or was followed", f"'{key}'", "open the page Live again")
        return max(here, key=lambda one: one[1].at)

    def _leads(self, key: str, said: Word) -> Callable[[Mapping[str, Any]], str]:
        """Where the signals of a finding are: in the archive, where it has come that far, else in the record so far."""
        until = self._archived().get(said.machine)
        is_here = _is_here(said)

        def lead(one: Mapping[str, Any]) -> str:
            start, end = (datetime.fromisoformat(one[name]) for name in ("start", "end"))
            finding = "/".join(str(one[name] or "") for name in ("pattern", "motion", "signal"))
            asked = {"machine": said.machine}
            if one["told"] == "withdrawn":
                return ""
            if until is not None and end <= until:
                asked["week"] = f"{start.astimezone(ZoneInfo(said.zone)):%G-W%V}"
            elif is_here:
                asked |= {"record": key, "after": one["told_at"]}
            else:
                return ""
            return "/review?" + urlencode({**asked, "finding": finding, "at": one["start"]})

        return lead

    def _review_at(self, key: str, said: Word, after: datetime) -> str:
        if not (_is_here(said) and said.record_end):
            return ""
        return "/review?" + urlencode({"machine": said.machine, "record": key, "after": after.isoformat()})

    def _archived(self) -> dict[str, datetime]:
        """How far the archive reaches, of each machine."""
        if self._archive is None:
            return {}
        with self._reading:
            version = self._archive.version()
            if self._until is None or self._until[0] != version:
                self._until = version, _reach(self._archive)
            return self._until[1]


def live_in(archive: Archive) -> Live | None:
    """Who follows into an archive; None where that cannot be seen: it lies on an object store."""
    folder = folder_of(archive.address)
    return None if folder is None else Live(folder, archive)


def has_followers(archive: Archive) -> bool:
    """Whether anybody ever followed into an archive."""
    folder = folder_of(archive.address)
    return folder is not None and (folder / FOLLOWING).is_dir()


def _is_here(said: Word) -> bool:
    """Whether the record can be read from here."""
    return (Path(said.state) / "snapshot.json").is_file()


def _reach(archive: Archive) -> dict[str, datetime]:
    try:
        contents = archive.contents()
    except EventlensError:  # there is none yet
        return {}
    reach: dict[str, datetime] = {}
    for machine, last in contents.select("machine", "last").drop_nulls().iter_rows():
        reach[machine] = max(last, reach.get(machine, last))
    return reach
