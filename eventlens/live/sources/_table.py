"""What came from a broker or a server, put in order and written as rows, with what must be known to go on.

- An event is in its place if it comes within the wait (`live.waiting`). One that is later is set aside, and a note says
  how many there were and how late. Where it is the last that is known of its signal, its value holds from then on, as a
  state: when it changed is not in the record, and the record says so by three states, not by a wrong instant.
- A state (what a broker kept, the first value of a subscription) is no change: its signal is unknown up to it.
- After a gap the first row says so (`live_keys.AGAIN`): reading carries nothing over it.
- Whatever is not understood becomes a row without an instant, behind all that came before it: it may be a change of any
  of them, and reading takes its place for the time from which that is so.
"""

from __future__ import annotations

import time
from collections import Counter, deque
from collections.abc import Hashable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Final

from eventlens.live.sources._rows import EARLIEST_US, HEADER, LATEST_US, aside, fault_of, row, stamp
from eventlens.live.waiting import Waiting

AHEAD_S: Final = 86_400.0
"""A stamp further ahead of this computer's clock [s] is none: no zone is a day off (common practice, no source). It
would make everything that follows late."""
SET_BACK_S: Final = 60.0
SET_BACK_ROWS: Final = 20
"""If for so long [s] everything is late, at least so many rows, the clock was set back (common practice, no source)."""
MOST_NAMES: Final = 100_000
STAMPS_SAID: Final = 3


@dataclass(frozen=True)
class Came:
    """One value that came."""

    stamp_us: int
    name: str
    value: str | None
    """None: unknown from here on."""
    note: str = ""
    state: bool = False
    token: Hashable = None
    """What is to be acknowledged once this row is on the disk."""
    at: float = 0.0
    """Arrival [s since 1970]."""


@dataclass(frozen=True)
class _Aside:
    """A row without an instant."""

    text: str
    token: Hashable
    at: float


@dataclass(frozen=True)
class Written:
    """Rows that are ready."""

    text: bytes
    tokens: tuple[Hashable, ...]
    came: datetime | None


class Table:
    """Rows of one record. Not for several threads."""

    def __init__(self, wait_s: float, again: str, floor: int | None, *, begun: bool, gap: bool = False) -> None:
        """again: the name that tells of a gap; floor: stamp of the last row [us]; begun: the record has a header; gap:
        one that no row tells of yet."""
        self._waiting: Waiting[Came | _Aside] = Waiting(wait_s, floor)
        self._again, self._begun, self.is_gap = again, begun, gap
        self._ready: deque[tuple[str, Hashable, float]] = deque()
        self._last: dict[str, int] = {}
        self._late: list[tuple[int, int]] = []
        self._aside: Counter[str] = Counter()
        self._late_since: float | None = None
        self._late_rows = 0
        self._notes: list[str] = []

    @property
    def floor(self) -> int | None:
        """Stamp of the last row in order [us since 1970]."""
        return self._waiting.floor

    def take(self, came: Came, now: float) -> None:
        """One value. now: a clock that never goes back [s]."""
        if came.state and self.floor is not None:  # it holds now, whatever a clock says
            came = replace(came, stamp_us=max(came.stamp_us, self.floor))
        why = fault_of(came.name, came.value)
        if why is None and not EARLIEST_US <= came.stamp_us <= LATEST_US:
            why = "stamp out of range"
        elif why is None and came.stamp_us > (came.at + AHEAD_S) * 1e6:
            why = f"stamp {stamp(came.stamp_us)} is more than a day ahead of its arrival"
        if why is not None:
            self.set_aside(came.name, came.value or "", why, now, came.token, came.at)
        elif self._waiting.add(came.stamp_us, came, now):
            self._late_since, self._late_rows = None, 0
        else:
            self._take_late(came, now)

    def set_aside(self, where: str, text: str, why: str, now: float, token: Hashable = None, at: float = 0.0) -> None:
        """Something that is not understood. It waits as long as what came before it, and stands behind that."""
        one = _Aside(aside(where, text, why), token, at)
        if self._waiting.latest is None:
            self._ready.append((one.text, token, at))
        else:
            self._waiting.add(self._waiting.latest, one, now)
        self._aside[why] += 1

    def gap(self) -> None:
        """What was sent from now to what comes next is not known. What waits stands before it."""
        self._settle(self._waiting.rest())
        self.is_gap = True

    def next_s(self, now: float) -> float | None:
        """How long until rows are ready [s]: 0.0 where some are; None: nothing waits."""
        return 0.0 if self._ready else self._waiting.next_s(now)

    def written(self, now: float, most: int) -> Written:
        """The rows that are ready, at most so many bytes and one row."""
        self._settle(self._waiting.due(now))
        rows: list[str] = []
        tokens: list[Hashable] = []
        size, came = 0, 0.0
        while self._ready and size < most:
            text, token, at = self._ready.popleft()
            rows.append(text)
            size += len(text)
            came = min(came or at, at) if at else came
            if token is not None:
                tokens.append(token)
        head = b"" if self._begun or not rows else HEADER
        self._begun = self._begun or bool(rows)
        instant = datetime.fromtimestamp(came, UTC) if came else None
        return Written(head + "".join(rows).encode("utf-8", "replace"), tuple(tokens), instant)

    def notes(self) -> list[str]:
        """What happened since they were asked for last."""
        said, self._notes = self._notes, []
        if self._late:
            stamps = ", ".join(stamp(at) for at, _ in self._late[:STAMPS_SAID])
            more = f" and {len(self._late) - STAMPS_SAID} more" if len(self._late) > STAMPS_SAID else ""
            most = max(behind for _, behind in self._late) / 1e6
            said.append(
                f"{len(self._late)} came too late to be put in place ({stamps}{more}), up to {most:g} s behind what "
                f"was written, with a wait of {self._waiting.wait_s:g} s: set aside in the record; what they say holds "
                "as a state from then on."
            )
            self._late = []
        for why, count in self._aside.items():
            said.append(f"{count} not understood, set aside in the record: {why}.")
        self._aside.clear()
        return said

    def _take_late(self, came: Came, now: float) -> None:
        floor = self._waiting.floor
        assert floor is not None
        self._late_since = now if self._late_since is None else self._late_since
        self._late_rows += 1
        long = max(self._waiting.wait_s, SET_BACK_S)
        if self._late_rows >= SET_BACK_ROWS and now - self._late_since > long:
            self._settle(self._waiting.rest())
            self._waiting.forget()
            self._notes.append(f"The clock of the source was set back by about {(floor - came.stamp_us) / 1e6:g} s.")
            self.take(came, now)
            return
        behind = floor - came.stamp_us
        self._late.append((came.stamp_us, behind))
        text = f"{came.name}={came.value}" if came.value is not None else came.name
        why = f"late: {stamp(came.stamp_us)} is {behind / 1e6:g} s behind"
        self._ready.append((aside(came.name, text, why), came.token, came.at))
        if came.stamp_us >= self._last.get(came.name, 0):  # the last that is known of it
            self._put(floor, replace(came, state=True, note="a late record", token=None))

    def _settle(self, given: list[tuple[int, Came | _Aside]]) -> None:
        """Rows whose place is certain."""
        if given and self.is_gap:
            self._ready.append((row(given[0][0], self._again, "1", "a gap before"), None, 0.0))
            self.is_gap = False
        if len(self._last) > MOST_NAMES:
            self._last.clear()
        for at, came in given:
            if isinstance(came, _Aside):
                self._ready.append((came.text, came.token, came.at))
            else:
                self._put(at, came)
                self._last[came.name] = at

    def _put(self, at: int, came: Came) -> None:
        if came.state and came.value is not None:
            self._ready.append((row(at, came.name, None, "a state, no change"), None, 0.0))
        self._ready.append((row(at, came.name, came.value, came.note), came.token, came.at))


def now_us() -> int:
    """The clock of this computer [us since 1970]."""
    return time.time_ns() // 1000
