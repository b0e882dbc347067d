"""Dumps that are being brought in: whose they are, what is known of them, and their reviews, made in the background.

What lies on disk says everything, so that a restart or another worker loses nothing: dumps that were looked at and
reviews that were made are held only to be quick.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Final

from dashboards.data import dump as dumps
from dashboards.data.adding import Adding, Plan, Taken
from dashboards.data.dump import Dump
from dashboards.data.week import Week
from dashboards.jobs import Job, Jobs, Tell
from dashboards.shelf import MACHINE, PROFILE, Brought, Shelf, ShelfError

WAIT_S: Final = 60.0
"""How long a page waits for a review that is made again [s]."""


@dataclass(frozen=True)
class Intake:
    """What visitors bring in to one server."""

    shelf: Shelf
    jobs: Jobs = field(default_factory=Jobs)
    looks: Jobs = field(default_factory=Jobs)
    """Apart from the reviews: whoever brings something in does not wait for another one's review."""
    adding: Adding | None = None
    """The archive that is shown, where visitors may add to it."""
    adds: Jobs = field(default_factory=Jobs)

    def take(self, visitor: str, dump: str | None, name: str, length: int | None, body: IO[bytes], ms: int) -> str:
        """A file as its bytes come; see Shelf.put."""
        return self.shelf.put(visitor, dump, name, length, body, ms)

    def files(self, visitor: str, dump: str) -> list[Brought]:
        """The files of a dump; ShelfError where the visitor has none of that name."""
        return self.shelf.files(visitor, dump)

    def look(self, visitor: str, dump: str) -> Job:
        """The dump as it is before its signals are stated; the job's result is a `Dump`."""
        paths = self.shelf.paths(visitor, dump)
        key = (dump, *(one.sha256 for one in self.shelf.files(visitor, dump)))
        return self.looks.find(key) or self.looks.start(key, lambda tell: _look(paths, tell))

    def stated(self, visitor: str, dump: str) -> tuple[Path | None, Path | None]:
        """The profile and the machine file that were stated, as far as they were."""
        places = [self.shelf.stated(visitor, dump, what) for what in (PROFILE, MACHINE)]
        found = [path if path.exists() else None for path in places]
        return found[0], found[1]

    def remembered(self, visitor: str, looked: Dump) -> tuple[Path | None, Path | None]:
        """The profile that read a dump of the same kind before, and the machine file that was used with it."""
        for folder in self.shelf.kept(visitor):
            profile, machine = folder / PROFILE, folder / MACHINE
            if profile.exists() and dumps.fits(profile, looked):
                return profile, machine if machine.exists() else None
        return None, None

    def state(self, visitor: str, dump: str, what: str, text: str) -> Path:
        """Keeps a profile or a machine file with its dump, if it is one; the error of its reader where it is not."""
        before = self.shelf.stated(visitor, dump, what)
        old = before.read_text("utf-8") if before.exists() else None
        path = self.shelf.state(visitor, dump, what, text)
        try:
            (dumps.stated_signals if what == PROFILE else dumps.checked_machine)(path)
        except dumps.EventlensError:
            path.unlink() if old is None else self.shelf.state(visitor, dump, what, old)
            raise
        return path

    def forget(self, visitor: str, dump: str, what: str) -> None:
        """Takes a profile or machine file back."""
        self.shelf.stated(visitor, dump, what).unlink(missing_ok=True)

    def forget_dump(self, visitor: str, dump: str) -> None:
        """Deletes a dump with all that was stated about it; what was kept for others of its kind stays."""
        self.stop(visitor, dump)
        self.shelf.drop(visitor, dump)

    def week(self, visitor: str, dump: str) -> Week:
        """The review of a dump; made here where it is not there any more, as after a restart. Its error where it
        cannot be made.
        """
        job = self.begin(visitor, dump)
        if not job.ended.wait(WAIT_S):
            raise ShelfError(f"The review is still being made ({job.stage}): open this address again in a while.", 503)
        if job.fault is not None:
            raise job.fault
        return job.result  # type: ignore[no-any-return]

    def begin(self, visitor: str, dump: str) -> Job:
        """Begins the review of a dump with what is stated about it, unless it was made; the job's result is a Week."""
        paths = self.shelf.paths(visitor, dump)
        profile, machine = self.stated(visitor, dump)

        def work(tell: Tell) -> object:
            week = dumps.reviewed(paths, profile, machine, tell)
            self.shelf.keep(visitor, dump)
            return week

        return self.jobs.start(self.review_key(visitor, dump), work)

    def reviewing(self, visitor: str, dump: str) -> Job | None:
        """The review that was begun, if one was with what is stated now."""
        return self.jobs.find(self.review_key(visitor, dump))

    def stop(self, visitor: str, dump: str) -> None:
        """Asks the review of a dump to end at its next stage."""
        self.jobs.stop(self.review_key(visitor, dump))

    # --- into the archive

    def plan(self, visitor: str, dump: str) -> Plan | None:
        """What adding the dump to the archive would do; None where nobody may."""
        if self.adding is None:
            return None
        return self.adding.plan(self._hashes(visitor, dump), *self.stated(visitor, dump))

    def add(self, visitor: str, dump: str, *, with_plate: bool) -> Job:
        """Begins to add a dump that was reviewed, as it was read for that; the job's result is what is said of it."""
        reviewed = self.reviewing(visitor, dump)
        adding, (profile, plate) = self.adding, self.stated(visitor, dump)
        if adding is None:
            raise ShelfError("An archive that visitors may add to was wanted: nothing was added.", 403)
        if reviewed is None or not reviewed.done or reviewed.fault is not None or plate is None:
            raise ShelfError("A dump that was reviewed was wanted: review it first, then add it.", 409)
        paths = self.shelf.paths(visitor, dump)

        def work(tell: Tell) -> tuple[str, ...]:
            return adding.add(paths, profile, plate, with_plate=with_plate, tell=tell)

        return self.adds.start(self.review_key(visitor, dump), work)

    def adding_now(self, visitor: str, dump: str) -> Job | None:
        """The job that adds the dump, if it was begun since the server started."""
        return self.adds.find(self.review_key(visitor, dump))

    def taken(self, visitor: str, dump: str, said: tuple[str, ...]) -> Taken:
        """What the archive holds of a dump that it holds."""
        profile, plate = self.stated(visitor, dump)
        assert self.adding is not None
        assert plate is not None
        return self.adding.taken(said, self._hashes(visitor, dump), profile, plate)

    def _hashes(self, visitor: str, dump: str) -> list[str]:
        return [one.sha256 for one in self.shelf.files(visitor, dump)]

    def review_key(self, visitor: str, dump: str) -> tuple[str, ...]:
        """What the review of a dump rests on."""
        texts = [path.read_bytes() if path else b"" for path in self.stated(visitor, dump)]
        said = hashlib.sha256(b"\0".join(texts)).hexdigest()
        return (dump, said, *(one.sha256 for one in self.shelf.files(visitor, dump)))


def _look(paths: list[Path], tell: Tell) -> Dump:
    tell("looking at the dump")
    return Dump(paths)
