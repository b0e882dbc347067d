"""An OPC UA server: variables and events that the profile's `[live]` names become rows.

    eventlens follow opc.tcp://server.example:4840 --profile saw-3.toml

- A change has the stamp of its source. A value of uncertain or bad status is unknown, and the note names the status.
- The first value of a subscription is a state by the clock of the server, no change: it may stand for long.
- A server keeps nothing for somebody who is away, unless it keeps a history, which is not asked for: a break is a gap,
  and the record says so. Within a connection the server queues up to `QUEUE` values of each variable; where it says
  that its queue ran over, what follows is a state.

User and password: EVENTLENS_OPCUA_USER, EVENTLENS_OPCUA_PASSWORD or EVENTLENS_OPCUA_PASSWORD_FILE. Signed and
encrypted: EVENTLENS_OPCUA_SECURITY, for example Basic256Sha256,SignAndEncrypt,own.der,own-key.pem,server.der.
"""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime
from typing import Any, Final

from eventlens.errors import EventlensError
from eventlens.live.access import Address, parsed
from eventlens.live.sources._base import Following, Position
from eventlens.live.sources._collecting import Collecting
from eventlens.live.sources._session import PREFIX, Session, library
from eventlens.live.sources._table import Came, now_us
from eventlens.live.sources._values import NotOneValueError, as_text
from eventlens.reading.live_keys import Events

SCHEMES: Final = ("opc.tcp",)
PORTS: Final = {"opc.tcp": 4840}
"""The port that is registered for OPC UA."""
_GOOD: Final = 0xC000_0000
"""Bits of a status that are 0 where it is good (OPC UA part 4, StatusCode)."""
_RAN_OVER: Final = 0x0480
"""Bits of a status that say: a data value, and the queue before it ran over (OPC UA part 4, StatusCode)."""


class OpcUaSource(Collecting):
    """A server of values."""

    def __init__(self, address: Address, following: Following) -> None:
        """EventlensError where nothing to subscribe to is stated, or the extra is missing."""
        library()
        super().__init__(address.name, following)
        live = following.profile.live
        if live is None or not (live.nodes or live.events):
            raise EventlensError(
                f"variables or events to follow at {address.name}", "none", "state [live.nodes] in the profile"
            )
        self._nodes, self._events = dict(live.nodes), live.events
        self._session = Session(address, tuple(self._nodes), self._events, self)
        self._fresh: set[str] = set()
        self._clock: datetime | None = None
        self._is_up = self._was_up = self._has_no_stamp = False
        self._thread = threading.Thread(target=self._session.run, name="server", daemon=True)

    @property
    def trouble(self) -> str:
        """Whether the server is away."""
        return "" if self._is_up else "not connected to the server"

    def resume(self, position: Position | None) -> None:
        """Goes on behind a position: with a gap, since the server keeps nothing meanwhile."""
        try:
            self.settle_at(position or {})
            if position is not None and position.get("kind") != SCHEMES[0]:
                raise ValueError
        except (TypeError, ValueError, AttributeError):
            raise self.another() from None
        if position is not None:
            with self.turn:
                self.lost_some(f"{self.name} keeps nothing for those who are away.")
        self._thread.start()

    def kept(self, position: Position) -> None:
        """Nothing is to be done: the server does not wait for it."""

    def close(self) -> None:
        """Leaves the server."""
        if self._thread.is_alive():
            self._session.stop()
            self._thread.join(10.0)

    def place(self) -> Position:
        """By what a position of this kind is known."""
        return {"kind": SCHEMES[0]}

    def on_up(self, clock: datetime | None) -> None:
        """The server is there; every variable tells its state as of now."""
        with self.turn:
            if self._was_up:
                self.on_note(f"{self.name} is there again.")
            self._fresh, self._clock = set(self._nodes), clock
            self._is_up = self._was_up = True

    def on_down(self, why: str) -> None:
        """It is lost."""
        with self.turn:
            self._is_up = False
            self.lost_some(f"The connection to {self.name} is lost ({why}); it is tried again.")

    def on_value(self, node: str, value: Any) -> None:
        """One value of a variable: a DataValue."""
        with self.turn:
            self._take(node, value)
            self.turn.notify()

    def on_event(self, entry: Events, event: Any) -> None:
        """One event."""
        with self.turn:
            arrived = now_us()
            name = entry.fixed if entry.fixed is not None else as_text(getattr(event, entry.name, None))
            at = getattr(event, "Time", None)
            if name is None or not isinstance(at, datetime):
                missing = f"no field '{entry.name}' for the name" if name is None else "no time"
                text, why = str(getattr(event, "Message", "")), f"event with {missing}"
                self.table.set_aside(entry.node, text, why, time.monotonic(), at=arrived / 1e6)
            else:
                self._put(name, getattr(event, entry.value, None), _us(at), arrived, "")
            self.turn.notify()

    def _take(self, node: str, value: Any) -> None:
        arrived = now_us()
        status = 0 if value.StatusCode is None else int(value.StatusCode.value)
        name, is_state = self._nodes[node], node in self._fresh
        self._fresh.discard(node)
        source, server = value.SourceTimestamp, value.ServerTimestamp
        if is_state:
            at, note = self._clock, "first value"
        else:
            at, note = source or server, ""
        if at is None and not self._has_no_stamp and not is_state:
            self._has_no_stamp = True
            self.on_note(f"{self.name} gives values without a stamp: the time of their arrival counts.")
        if status & _RAN_OVER == _RAN_OVER and not is_state:
            is_state, note = True, "values before it were lost in the queue of the server"
            self.on_note(f"The queue of {self.name} for '{name}' ran over: values are lost, what follows is a state.")
        stamp = arrived if at is None else _us(at)
        if status & _GOOD:
            self._came(stamp, name, None, f"status {value.StatusCode.name}", arrived)
        else:
            self._put(name, None if value.Value is None else value.Value.Value, stamp, arrived, note, state=is_state)

    def _put(self, name: str, value: Any, stamp: int, arrived: int, note: str, *, state: bool = False) -> None:
        try:
            self._came(stamp, name, as_text(value), note, arrived, state=state)
        except NotOneValueError as fault:
            self.table.set_aside(name, repr(value)[:1000], str(fault), time.monotonic(), at=arrived / 1e6)

    def _came(self, stamp: int, name: str, value: str | None, note: str, arrived: int, *, state: bool = False) -> None:
        self.table.take(Came(stamp, name, value, note, state, None, arrived / 1e6), time.monotonic())


def _us(instant: datetime) -> int:
    whole = instant if instant.tzinfo is not None else instant.replace(tzinfo=UTC)
    return round((whole - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds() * 1_000_000)


def opened(address: str, following: Following) -> OpcUaSource:
    """The source of an address."""
    return OpcUaSource(parsed(address, PORTS, PREFIX), following)
