"""Messages to a topic of a broker, at QoS 1, in their order, each when the broker has the one before it.

While the broker is away they wait: all of them are in the journal. How far it has them is on the disk as soon as it
says so; after a restart it is told what is missing. It gets a message again only where the program was killed, or the
connection lost, between its receipt and its answer: `number` counts them, so whoever reads knows it again.
"""

from __future__ import annotations

import json
import os
import threading
import uuid
from collections import deque
from collections.abc import Callable, Sequence
from hashlib import blake2b
from pathlib import Path
from typing import Any, Final

from eventlens.errors import EventlensError
from eventlens.live.access import parsed
from eventlens.live.broker import PORTS, PREFIX, Broker
from eventlens.live.journal import as_json
from eventlens.live.told import Message

SCHEMES: Final = tuple(PORTS)
TOPIC: Final = "eventlens/findings"
"""Where the address names none."""
FIRST_S: Final = 2.0
"""So long the first connection is waited for [s], to say at once that the broker refuses."""
LAST_S: Final = 5.0
"""So long whoever ends waits for what was not sent yet [s]; it is sent the next time."""
SESSION_H: Final = 24.0


class BrokerListener:
    """A topic of a broker."""

    def __init__(self, address: str, state: Path, note: Callable[[str], None] = lambda sentence: None) -> None:
        """state: a folder in which to keep how far it was told. EventlensError where the address is none."""
        place = parsed(address, PORTS, PREFIX)
        self.topic = place.path or TOPIC
        if "#" in self.topic or "+" in self.topic:
            raise EventlensError("one topic for findings", f"'{self.topic}'", "name it without + and #")
        self._note = note
        known = blake2b(f"{place.name} {self.topic}".encode(), digest_size=4).hexdigest()
        self._path = state / f"sent-{known}.json"
        self._sent: int | None = None
        client = f"eventlens-{uuid.uuid4().hex[:12]}"
        if self._path.exists():
            client = self._read(client)
        self._client = client
        self._turn = threading.Condition()
        self._queue: deque[tuple[int, bytes]] = deque()
        self._is_open = False
        """The first of the queue was published and is not answered."""
        self._is_up = False
        self._fault: EventlensError | None = None
        self._broker = Broker(place, client, "5", SESSION_H, self)
        self._broker.client.on_publish = self._on_publish
        self._broker.start()

    def last(self) -> int | None:
        """Number of the last message that the broker has; EventlensError where it refuses."""
        with self._turn:
            self._turn.wait_for(lambda: self._is_up or self._fault is not None, FIRST_S)
            self._check()
            return self._sent

    def tell(self, messages: Sequence[Message]) -> None:
        """Has them sent; they are safe in the journal meanwhile."""
        if not messages:
            return
        with self._turn:
            self._check()
            if self._sent is None:
                self._keep(messages[0].number - 1)
            self._queue.extend((one.number, json.dumps(as_json(one)).encode()) for one in messages)
        self._publish()

    def close(self) -> None:
        """Waits a moment for what was not sent."""
        with self._turn:
            self._turn.wait_for(lambda: not self._queue or not self._is_up or self._fault is not None, LAST_S)
        self._broker.close()

    def on_up(self, *, same_session: bool) -> None:
        """The broker is there. What is open the library sends again itself."""
        with self._turn:
            self._is_up = True
            self._turn.notify_all()
        self._publish()

    def on_down(self) -> None:
        """The broker is gone."""
        with self._turn:
            self._is_up = False
            self._turn.notify_all()

    def on_note(self, sentence: str) -> None:
        """Something that people should know."""
        self._note(sentence)

    def on_fault(self, fault: EventlensError) -> None:
        """It makes no sense to go on."""
        with self._turn:
            self._fault = fault
            self._turn.notify_all()

    def _check(self) -> None:
        if self._fault is not None:
            raise self._fault

    def _publish(self) -> None:
        """The next one, if none is open. Not while `_turn` is held: the library calls back under a lock of its own."""
        with self._turn:
            if not self._queue or self._is_open or not self._is_up:
                return
            self._is_open, payload = True, self._queue[0][1]
        self._broker.client.publish(self.topic, payload, qos=1)

    def _on_publish(self, client: Any, userdata: Any, mid: int, reason: Any, properties: Any) -> None:
        with self._turn:
            self._is_open = False
            if reason.is_failure:
                self._fault = EventlensError(
                    f"to write to '{self.topic}' at {self._broker.address.name}", f"'{reason}'", "ask its owner"
                )
            else:
                self._keep(self._queue.popleft()[0])
            self._turn.notify_all()
        self._publish()

    def _keep(self, number: int) -> None:
        """How far it was told, in one step."""
        beside = self._path.with_suffix(".new")
        with beside.open("w", encoding="utf-8") as file:
            json.dump({"client": self._client, "number": number}, file)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(self._path)
        self._sent = number

    def _read(self, client: str) -> str:
        try:
            told = json.loads(self._path.read_text("utf-8"))
            self._sent = int(told["number"])
            return str(told["client"])
        except (OSError, ValueError, KeyError, TypeError):
            raise EventlensError(
                "how far findings were sent",
                "something else",
                "remove the file: only what is new is sent then",
                file=self._path,
            ) from None
