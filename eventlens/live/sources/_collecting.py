"""What sources have in common that collect in a thread of their own: notes, faults, and batches of a table's rows."""

from __future__ import annotations

import threading
import time
from collections.abc import Hashable, Sequence
from typing import Final

from eventlens.errors import EventlensError
from eventlens.live.sources._base import Batch, Following, Position
from eventlens.live.sources._table import Table
from eventlens.reading.live_keys import AGAIN

MOST_BYTES: Final = 1 << 22
EVERY_S: Final = 0.1
"""Batches come no quicker than this [s]: each costs the disk a sync (common practice, no source)."""
FILE: Final = "followed.csv"
"""The record is one file."""


class Collecting:
    """A source whose rows a table puts in order. Whoever collects holds `turn`, and wakes it."""

    def __init__(self, name: str, following: Following) -> None:
        """name: for people."""
        self.name = name
        self.turn = threading.Condition()
        self.moved = False
        """The position has something new that must be on the disk."""
        self._following = following
        self._fault: EventlensError | None = None
        self._notes: list[str] = []
        self._next_at = 0.0

    def settle_at(self, position: Position) -> None:
        """The table as it goes on behind a position; a fault of its form raises KeyError, TypeError or ValueError."""
        log = self._following.profile.log
        floor = position.get("floor")
        self._begun = bool(position.get("begun", False))
        self.table = Table(
            self._following.waits_s,
            log.boot or AGAIN,
            None if floor is None else int(floor),
            begun=self._begun,
            gap=bool(position.get("gap", False)),
        )

    def more(self, within_s: float) -> Batch:
        """What came; EventlensError where it makes no sense to go on."""
        until = time.monotonic() + within_s
        with self.turn:
            while True:
                now = time.monotonic()
                batch = self._batch(now) if now >= self._next_at or self._notes or self._fault else None
                if batch is not None:
                    return batch
                if now >= until:
                    return Batch()
                due = self.table.next_s(now)
                soon = until if due is None else max(self._next_at, now + due + 1e-3)
                self.turn.wait(max(1e-3, min(until, soon) - now))

    def on_note(self, sentence: str) -> None:
        """Something that people should know."""
        with self.turn:
            self._notes.append(sentence)
            self.turn.notify()

    def on_fault(self, fault: EventlensError) -> None:
        """It makes no sense to go on."""
        with self.turn:
            self._fault = fault
            self.turn.notify()

    def lost_some(self, sentence: str) -> None:
        """What happened until now may be missing."""
        self.table.gap()
        self.moved = True
        self.on_note(f"{sentence} The record has a gap there.")

    def handed(self, tokens: Sequence[Hashable]) -> None:
        """What these stand for is in the batch that is given now."""

    def place(self) -> Position:
        """What the source itself must know to go on."""
        return {}

    def another(self) -> EventlensError:
        """A position is one of another source."""
        return EventlensError(
            f"a record that was followed from {self.name}", "another one", "name another folder for it"
        )

    def _batch(self, now: float) -> Batch | None:
        """What is ready; None: nothing."""
        if self._fault is not None:
            raise self._fault
        written = self.table.written(now, MOST_BYTES)
        self.handed(written.tokens)
        notes, self._notes = (*self._notes, *self.table.notes()), []
        if not (written.text or notes or self.moved):
            return None
        begins = FILE if written.text and not self._begun else None
        self._begun = self._begun or bool(written.text)
        position = self._position() if written.text or self.moved else None
        self.moved = False
        if written.text:
            self._next_at = now + EVERY_S
        return Batch(written.text, position, begins, notes, written.came)

    def _position(self) -> Position:
        known = {"begun": self._begun, "floor": self.table.floor, "gap": self.table.is_gap}
        return {**known, **self.place()}
