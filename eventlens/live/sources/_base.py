"""What a source is: something that gives more of a record as time goes by.

What it gives is kept byte for byte, in files of the record (`live.spool`): a review reads these as it reads any dump.
So a source that has no text of its own (a broker, a server of values) writes lines of a table, its header line first,
in any notation that `eventlens review` takes, for example

    time,signal,value
    2026-03-02T06:00:00.120Z,hoist.raise.command,1

The way of one batch, which loses and doubles nothing wherever it is broken off:

1. `more` gives bytes and the position behind them.
2. The bytes are on the disk; then, in one step, the length of the record and the position are.
3. `kept` is told the position: what came up to it may be forgotten. A broker acknowledges here and not before.

After a restart `resume` is given the last position that was kept, and what came after it comes again.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Protocol

from eventlens.reading import Profile

Position = dict[str, Any]
"""Where to go on, as the source that made it understands it; it must survive JSON."""


@dataclass(frozen=True)
class Following:
    """How a source is followed, as whoever asks for it has stated."""

    profile: Profile = field(default_factory=Profile)
    """Its [live] table says what is fetched from a broker or a server."""
    wait_s: float | None = None
    """Records that come so late [s] are put in place; None: as the profile says ([log] late_s)."""

    @property
    def waits_s(self) -> float:
        """The wait that holds [s]."""
        return self.profile.log.late_s if self.wait_s is None else self.wait_s


@dataclass(frozen=True)
class Batch:
    """What came since the last batch, perhaps nothing."""

    text: bytes = b""
    """The bytes that follow those of the last batch. They may end inside a line: the rest of it comes later."""
    position: Position | None = None
    """Where to go on behind `text`. Without text it may be None: where the last batch said; it may also move on without
    text. With text it must be there."""
    begins: str | None = None
    """Set where `text` begins another file of the record: its name, as 'saw-3.csv'. The first batch of a record must
    set it. A file of a record has its own head (header line, preamble); nothing is repeated in it on a restart."""
    notes: tuple[str, ...] = ()
    """What happened to the source, a sentence each: rotated, cut off, connection lost, back again."""
    came: datetime | None = None
    """When the first byte of `text` came here, where the source knows; None: as it is handed over."""
    modified_ns: int | None = None
    """When the file that it comes from was last written, where there is one: it completes stamps without a year."""
    ended: bool = False
    """No more will come."""


class Source(Protocol):
    """Gives more of a record as time goes by. A thread of its own may collect, these methods are called from one."""

    name: str
    """What is followed, in words for people: a path, an address without its password."""

    @property
    def trouble(self) -> str:
        """What stands between it and whoever follows at this moment, in a few words, as 'not connected'; empty where
        nothing does. Asked for from any thread."""
        ...

    def resume(self, position: Position | None) -> None:
        """Goes on behind a position that was kept; None: from the beginning. Called once, before anything else.

        EventlensError (one sentence) where what it names is no such source. A source that is not there yet is none:
        it may come.
        """
        ...

    def more(self, within_s: float) -> Batch:
        """What came. Returns at once where there is something, else when something comes, at the latest after
        `within_s` seconds with an empty batch. Bound a batch (about 4 MB), so that much of it comes in parts.

        A connection that is lost is a note, not an error: it is tried again.
        """
        ...

    def kept(self, position: Position) -> None:
        """Everything up to this position is on the disk and will not be asked for again."""
        ...

    def close(self) -> None:
        """Gives back what it holds; more will not be called again. Nothing that was not `kept` is acknowledged."""
        ...
