"""Says every few seconds how it is with a record (`word`), in a thread: a look may take longer than the silence that
counts as the end.

Following must not suffer from it: where a word cannot be written, that is noted once, and tried again.
"""

from __future__ import annotations

import os
import shutil
import threading
from collections import deque
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO, Final

from eventlens.errors import EventlensError
from eventlens.live import word
from eventlens.live.course import Course
from eventlens.live.told import Message
from eventlens.machine import Machine

_SOONEST_S: Final = 0.3
"""Words come no quicker than this [s]."""
_KNOWN_BY: Final = 4096
"""Bytes at its end by which a copy of a journal is known to be one."""


class Board:
    """Whoever looks on sees this. It is a listener, and takes notes."""

    def __init__(
        self,
        source: str,
        state: Path,
        machine: Machine,
        *,
        zone: str = "UTC",
        archive: str | None = None,
        profile: Path | None = None,
        note: Callable[[str], None] = lambda sentence: None,
    ) -> None:
        """source: its name for people; profile: the file that says how the record is read; note: is told what happens
        beside the word."""
        self.machine, self._source, self._state, self._zone = machine, source, state.absolute(), zone
        self._profile, self._say = profile, note
        self._archive = archive or ""
        board = word.board_in(archive, machine.id, state) if archive else None
        self._folders = [self._state, *([board] if board else [])]
        self._copy = board / word.TOLD if board else None
        self._turn = threading.Lock()
        self._notes: deque[word.Note] = deque(maxlen=word.NOTES)
        self._noted = 0
        self._minutes: deque[list[int]] = deque(maxlen=word.MINUTES)
        self._soon, self._ending = threading.Event(), threading.Event()
        self._why, self._is_silent = "", False
        self._thread: threading.Thread | None = None

    def begin(self, course: Course, wait_s: float) -> None:
        """From here on others see that somebody follows. wait_s: records so late [s] are put in place."""
        self._course, self._wait_s, self._begun = course, wait_s, datetime.now(UTC)
        self._go_on()
        self._lines = course.lines
        try:
            self._lay_down()
        except OSError as fault:
            self._refused(fault)
        self._speak()
        self._thread = threading.Thread(target=self._run, name="board", daemon=True)
        self._thread.start()

    def note(self, sentence: str) -> None:
        """Something that happened to the source."""
        with self._turn:
            self._notes.append(word.Note(datetime.now(UTC), sentence))
            self._noted += 1
        self._soon.set()
        self._say(sentence)

    def last(self) -> int | None:
        """The copy follows the journal by itself."""
        return None

    def tell(self, messages: Sequence[Message]) -> None:
        """What was told is in the journal: the copy takes it from there."""
        self._soon.set()

    def failed(self, fault: BaseException) -> None:
        """What ended it, where nobody asked it to end."""
        self._why = str(fault) if isinstance(fault, EventlensError) else type(fault).__name__

    def close(self) -> None:
        """The last word: nobody follows any more."""
        if self._thread is None:
            return
        self._ending.set()
        self._soon.set()
        self._thread.join()
        self._thread = None
        self._speak()

    def _run(self) -> None:
        while not self._ending.is_set():
            self._soon.wait(word.EVERY_S)
            self._soon.clear()
            if not self._ending.is_set():
                self._speak()
                self._ending.wait(_SOONEST_S)

    def _go_on(self) -> None:
        """What the program before knew and this one cannot."""
        try:
            before = word.read(self._state)
        except EventlensError:
            return
        self._notes.extend(before.notes)
        self._noted = before.noted
        self._minutes.extend(list(one) for one in before.minutes)
        self._course.came = self._course.came or before.came
        self._course.record_end = self._course.record_end or before.record_end

    def _lay_down(self) -> None:
        """How the record is read, so that whoever looks on can review it."""
        (self._state / word.MACHINE).write_text(self.machine.model_dump_json(), "utf-8")
        kept = self._state / word.PROFILE
        if self._profile is None:
            kept.unlink(missing_ok=True)
        elif self._profile.absolute() != kept:
            shutil.copyfile(self._profile, kept)

    def _speak(self) -> None:
        """One word, wherever it is looked for."""
        said = self._word(datetime.now(UTC))
        try:
            for folder in self._folders:
                word.write(said, folder)
            if self._copy is not None:
                copy_on(self._state / word.TOLD, self._copy)
            self._is_silent = False
        except OSError as fault:
            self._refused(fault)

    def _refused(self, fault: OSError) -> None:
        if not self._is_silent:
            self._is_silent = True
            self._say(f"Who looks on does not see this: {fault.strerror or fault}; it is tried again.")

    def _word(self, now: datetime) -> word.Word:
        course = self._course
        with self._turn:
            self._count(int(now.timestamp()) // 60, course.lines)
            return word.Word(
                machine=self.machine.id,
                source=self._source,
                state=str(self._state),
                zone=self._zone,
                begun=self._begun,
                at=now,
                ended=self._ending.is_set(),
                why=self._why,
                came=course.came,
                record_end=course.record_end,
                lines=course.lines,
                looking=course.looking,
                trouble="" if self._ending.is_set() else course.trouble(),
                told=course.told,
                notes=tuple(self._notes),
                noted=self._noted,
                minutes=tuple((at, lines) for at, lines in self._minutes),
                archive=self._archive,
                wait_s=self._wait_s,
            )

    def _count(self, minute: int, lines: int) -> None:
        """So many lines came in this minute; a minute without an entry was not followed."""
        if not self._minutes or self._minutes[-1][0] != minute:
            self._minutes.append([minute, 0])
        self._minutes[-1][1] += lines - self._lines
        self._lines = lines


def copy_on(journal: Path, copy: Path) -> None:
    """Makes a copy of a journal as long as it is; what is the copy of another one is begun anew."""
    if not journal.exists():
        return
    have = copy.stat().st_size if copy.exists() else 0
    with journal.open("rb") as whole:
        if not _is_beginning(copy, have, whole):
            have = 0
        whole.seek(have)
        text = whole.read()
    end = text.rfind(b"\n") + 1  # a line that is half there comes with the next word
    if end or not have:
        with copy.open("r+b" if have else "wb") as file:
            file.seek(have)
            file.write(text[:end])
            file.flush()
            os.fsync(file.fileno())


def _is_beginning(copy: Path, have: int, whole: BinaryIO) -> bool:
    """Whether so many bytes of a copy are those of the journal: each line has the time at which it was told, so the
    last of them say it."""
    begin = max(0, have - _KNOWN_BY)
    if not have:
        return True
    whole.seek(begin)
    with copy.open("rb") as file:
        file.seek(begin)
        return file.read() == whole.read(have - begin)
