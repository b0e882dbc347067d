"""Follows a source: takes what comes, looks at it, tells what is certain, and in the end says what a review says."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from eventlens.errors import EventlensError, ReadingError
from eventlens.live.course import Course
from eventlens.live.grows import refuse_what_cannot_grow
from eventlens.live.journal import Lines, Listener
from eventlens.live.keep import Keeper
from eventlens.live.looks import Looks, Seen, of_review
from eventlens.live.sources import Batch, Source
from eventlens.live.spool import Spool
from eventlens.live.told import Ledger, Message
from eventlens.machine import Machine
from eventlens.reading import Profile
from eventlens.result import Review
from eventlens.wiring import review

AT_ONCE: Final = 1 << 24
"""So much may come [bytes] before it is looked at."""
MUCH: Final = 1 << 16
"""A batch of so many bytes says that more is waiting."""
REST: Final = 0.5
"""After a look so many times its length without another one: a third of a core stays free."""
WHOLE_SHARE: Final = 50
"""Looks at the whole record take one in so many parts of the time ..."""
WHOLE_EVERY_S: Final = 60.0
"""... and come no more often than this [s]; while something comes all the time they wait up to so many times longer:"""
WHOLE_LATEST: Final = 4


class Follower:
    """One source, one record, one state folder. Not for several threads; close it."""

    def __init__(
        self,
        source: Source,
        state: Path,
        profile: Profile,
        machine: Machine,
        *,
        wait_s: float | None = None,
        possible: bool = False,
        listeners: Sequence[Listener] = (),
        note: Callable[[str], None] = lambda sentence: None,
        keeper: Keeper | None = None,
        step: Callable[[str], None] = lambda name: None,
    ) -> None:
        """wait_s: records so late [s] are put in place; None: as the profile says (late_s). note: is told what happens
        to the source, in sentences. keeper: puts the record into an archive. step: is told each durable step.
        """
        if wait_s is not None:
            profile = replace(profile, log=profile.log.model_copy(update={"late_s": wait_s}))
        self._source, self._profile, self._machine = source, profile, machine
        self._note, self._step, self._keeper = note, step, keeper
        self._listeners = list(listeners)
        self._spool = Spool(state, step)
        try:
            self._journal = Lines(state / "told.jsonl")
        except BaseException:
            self._spool.close()
            raise
        try:
            self._ledger = Ledger(possible=possible, wait_s=profile.log.late_s)
            self._ledger.keep(list(self._journal.after()))
            for listener in self._listeners:
                self._catch_up(listener)
            self._looks = Looks(profile, machine, state)
            self.course = Course(self._spool.paths, lambda: source.trouble)
            self.course.told = self._ledger.number
            self._spool.of(source.name)
            if wait_s != self._spool.snapshot.wait_s:
                self._spool.keep(replace(self._spool.snapshot, wait_s=wait_s))
            source.resume(self._spool.snapshot.position)
        except BaseException:
            self._journal.close()
            self._spool.close()
            raise
        self._new = self._spool.size > 0
        self._came: float | None = time.monotonic() if self._new else None
        self._idle_since = time.monotonic()
        self._whole_at, self._whole_took, self._whole_bytes = -1e9, 0.0, -1
        self._look_at, self._look_took = -1e9, 0.0
        self._seen: Seen | None = None
        self._unread, self._unkept, self._grows = "", "", 0

    @property
    def idle_s(self) -> float:
        """How long nothing has come [s]."""
        return time.monotonic() - self._idle_since

    @property
    def is_behind(self) -> bool:
        """Whether something came that was not looked at yet."""
        return self._new

    def step(self, within_s: float) -> bool:
        """Takes what comes within so many seconds and looks at it when it is time; False when no more will come."""
        batch = self.take(within_s)
        size = len(batch.text)
        while len(batch.text) >= MUCH and size < AT_ONCE and not batch.ended:
            batch = self.take(0.0)
            size += len(batch.text)
        now = time.monotonic()
        if self._new and (size >= AT_ONCE or now - self._look_at >= REST * self._look_took):
            self.look()
        elif not self._new:
            self._while_quiet(now)
        return not batch.ended

    def take(self, within_s: float) -> Batch:
        """Takes one batch: it is on the disk when this returns."""
        batch, now, before = self._source.more(within_s), time.monotonic(), self._spool.size
        self._spool.take(self._going_on(batch))
        self.course.took(batch)
        if batch.text:
            self._idle_since = now
        if self._spool.size > before:
            came = now if batch.came is None else now - (datetime.now(UTC) - batch.came).total_seconds()
            self._came = came if self._came is None else self._came
            self._new = True
        if batch.position is not None:
            self._source.kept(batch.position)
            self._step("source told")
        for sentence in batch.notes:
            self._note(sentence)
        return batch

    def look(self, *, whole: bool = False) -> None:
        """Looks at the record as it stands and tells what is certain now."""
        begun = time.monotonic()
        paths = self._spool.paths
        if not paths:
            return
        if len(paths) > self._grows:
            refuse_what_cannot_grow(paths[-1], self._source.name)
            self._grows = len(paths)
        try:
            with self.course.look():
                seen = None if whole or self._is_whole_due(begun) else self._looks.at_part(paths)
                seen = seen or self._looks.at_whole(paths)
        except ReadingError as fault:
            self._cannot_read(fault)
            return
        done = time.monotonic()
        if seen.whole:
            self._whole_at, self._whole_took, self._whole_bytes = done, done - begun, self._spool.size
        self._look_at, self._look_took = done, done - begun
        self.course.record_end = seen.end
        self._tell(seen)
        self._seen, self._new, self._came = seen, False, None
        self._keep(lambda keeper: keeper.some(self._spool, self._looks.cut, self._looks.first_lines))

    def finish(self) -> Review | None:
        """What a review of everything that came says, told to the last occurrence; None where nothing came.

        The record is complete then: a last line without an end counts as it stands. More may be followed later.
        """
        self._spool.finish()
        paths = self._spool.paths
        if not paths:
            return None
        refuse_what_cannot_grow(paths[-1], self._source.name)
        with self.course.look():
            found = review([str(path) for path in paths], self._profile, self._machine)
        self._tell(of_review(found), ended=True)
        self._keep(lambda keeper: keeper.all(self._spool, [file.first_line for file in found.log.files]))
        return found

    def close(self) -> None:
        """Gives everything back; what was not told is told when somebody goes on."""
        self._source.close()
        for listener in (self._journal, *self._listeners):
            listener.close()
        self._spool.close()

    def _going_on(self, batch: Batch) -> Batch:
        """A batch of another file that begins with the very head of the one before goes on with that: so a log that is
        rotated every hour is one file of the record, as if its data had been appended, and not thousands."""
        head = self._spool.head_of_last(self._looks.first_lines) if batch.begins is not None else None
        if head is None or not batch.text.startswith(head):
            return batch
        end = b"\n" if self._spool.is_inside_a_line else b""
        return replace(batch, begins=None, text=end + batch.text[len(head) :])

    def _catch_up(self, listener: Listener) -> None:
        """Tells a listener what it has missed; EventlensError for one that heard of another record."""
        last = listener.last()
        if last is not None and last > self._ledger.number:
            raise EventlensError(
                "findings of this record", f"{last} messages where {self._ledger.number} were told", "name another file"
            )
        if last is not None and last < self._ledger.number:
            listener.tell(list(self._journal.after(last)))

    def _is_whole_due(self, now: float) -> bool:
        """Whether it is time for a look at the whole record: seldom, and rather while nothing comes."""
        if self._spool.size == self._whole_bytes:
            return False
        every = max(WHOLE_EVERY_S, WHOLE_SHARE * self._whole_took)
        busy = now - self._idle_since < WHOLE_EVERY_S / 10
        return now - self._whole_at >= every * (WHOLE_LATEST if busy else 1)

    def _while_quiet(self, now: float) -> None:
        """Nothing came: what waited for late records only is told, and the whole record is looked at if it is time."""
        if self._seen is not None and self.idle_s >= self._profile.log.late_s:
            self._tell(self._seen, quiet=True)
            self._seen = None
        if self._whole_bytes >= 0 and self._is_whole_due(now):
            self.look(whole=True)

    def _tell(self, seen: Seen, *, ended: bool = False, quiet: bool = False) -> None:
        """What the ledger gives: into the journal, then to the listeners."""
        at, since = datetime.now(UTC), 0.0 if self._came is None else time.monotonic() - self._came
        messages = [
            Message(
                number=self._ledger.number + number,
                told=row.pop("told"),
                why=row.pop("why"),
                going_on=row.pop("going_on"),
                age_s=row.pop("age_s"),
                occurrence=row,
                program_s=since,
                at=at,
                whole=seen.whole,
            )
            for number, row in enumerate(self._ledger.weigh(seen, ended=ended, quiet=quiet), 1)
        ]
        if not messages:
            return
        self._step("to be told")
        self._journal.tell(messages)
        self._step("told to the journal")
        self._ledger.keep(messages)
        self.course.told = self._ledger.number
        for listener in self._listeners:
            listener.tell(messages)
        self._step("told")

    def _keep(self, put: Callable[[Keeper], int]) -> None:
        """Puts what is finished into the archive. What is refused is said, and tried again with the next piece: the
        record is safe where it is."""
        if self._keeper is None:
            return
        try:
            put(self._keeper)
        except EventlensError as fault:
            if str(fault) != self._unkept:
                self._unkept = str(fault)
                self._note(f"Not in the archive yet: {fault}")

    def _cannot_read(self, fault: EventlensError) -> None:
        """What came so far is no log yet, or none at all: said once, and more is waited for."""
        if str(fault) != self._unread:
            self._unread = str(fault)
            self._note(f"Not to be read so far: {fault}")
        self._new = False
