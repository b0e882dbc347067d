"""Which messages of a broker came already: a session gives each that was not acknowledged again, with the mark DUP.

A message is known again by its packet identifier and its content, and only while the broker may not have the
acknowledgement. As soon as it has it for sure (it answered something that was sent after it) the identifier stands for
nothing: the broker may use it anew. So what is thrown away is a redelivery (marked DUP, an identifier that is still
open, the same content), never the same content told once more.

One case cannot be decided by anybody at QoS 1: the connection broke after an acknowledgement was sent, and the broker
had it, used the identifier anew for the same topic and payload, and lost that delivery with the connection. It is
taken for a redelivery. A payload with a stamp or a counter in it cannot meet this.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from hashlib import blake2b

from eventlens.live.sources._base import Position


class State(Enum):
    """How far a message is."""

    WAITS = 0
    """Here, but in no batch yet."""
    HANDED = 1
    """In a batch."""
    SAFE = 2
    """On the disk."""
    SENT = 3
    """Acknowledged, but the broker may not know."""


@dataclass
class _Delivery:
    content: str
    state: State
    connection: int
    """In which it came last."""
    number: int
    """Its own, among all that came."""


class Deliveries:
    """What the broker may give again, by packet identifier. Not for several threads."""

    def __init__(self, known: Mapping[str, str] | None = None) -> None:
        """known: what `said` told before a restart: all of it is on the disk."""
        self._open: OrderedDict[int, _Delivery] = OrderedDict(
            (int(mid), _Delivery(content, State.SAFE, 0, 0)) for mid, content in (known or {}).items()
        )
        """In the order in which they came on this connection."""
        self._connection = self._number = 0

    def connected(self, *, same_session: bool) -> None:
        """A connection begins. In another session identifiers stand for other messages."""
        self._connection += 1
        if not same_session:
            self._open.clear()

    def is_new(self, mid: int, content: str, *, dup: bool) -> bool:
        """Whether a delivery is a message that did not come before."""
        before = self._open.get(mid)
        if dup and before is not None and before.content == content:
            before.connection = self._connection
            if before.state is State.SENT:
                before.state = State.SAFE
            self._open.move_to_end(mid)
            return False
        self._number += 1
        self._open[mid] = _Delivery(content, State.WAITS, self._connection, self._number)
        self._open.move_to_end(mid)
        return True

    def token(self, mid: int) -> tuple[int, int]:
        """What names the message that came last under an identifier."""
        return mid, self._open[mid].number

    def handed(self, tokens: Iterable[tuple[int, int]]) -> None:
        """Messages that are in a batch, as `token` named them."""
        for mid, number in tokens:
            found = self._open.get(mid)
            if found is not None and found.number == number:
                found.state = State.HANDED

    def kept(self) -> None:
        """All that were handed out are on the disk."""
        for found in self._open.values():
            if found.state is State.HANDED:
                found.state = State.SAFE

    def to_acknowledge(self) -> list[int]:
        """Those of this connection that are safe, in the order in which they came, up to the first that is not."""
        found: list[int] = []
        for mid, one in self._open.items():
            if one.connection != self._connection or one.state is State.SENT:
                continue
            if one.state is not State.SAFE:
                break
            one.state = State.SENT
            found.append(mid)
        return found

    def unconfirmed(self, *, settled: bool) -> list[int]:
        """Those that are acknowledged on this connection; the broker may not know.

        settled: whatever was open when this connection began has come again by now: what did not is acknowledged.
        """
        return [mid for mid, one in self._open.items() if self._is_done(one, settled=settled)]

    def confirmed(self, mids: Iterable[int]) -> None:
        """The broker knows for sure that these are acknowledged."""
        for mid in mids:
            if mid in self._open and self._is_done(self._open[mid], settled=True):
                del self._open[mid]

    def _is_done(self, one: _Delivery, *, settled: bool) -> bool:
        if one.connection == self._connection:
            return one.state is State.SENT
        return settled and one.state in (State.SAFE, State.SENT)

    def said(self) -> Position:
        """What must be known after a restart, if the last batch is on the disk: it survives JSON."""
        return {str(mid): one.content for mid, one in self._open.items() if one.state is not State.WAITS}


def content_of(topic: str, payload: bytes) -> str:
    """By what a message is known again: 64 bits of a hash."""
    return blake2b(topic.encode("utf-8", "replace") + b"\0" + payload, digest_size=8).hexdigest()
