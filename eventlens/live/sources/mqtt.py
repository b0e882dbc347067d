"""A broker (MQTT 5 or 3.1.1): what is published on the topics of the profile's `[live]`, at QoS 1.

    eventlens follow mqtt://broker.example --profile saw-3.toml
    eventlens follow 'mqtt://broker.example/quay/saw-3/#'           the payload is the value, the topic the name

- Nothing is lost or doubled by a break: the broker keeps a session, a message is acknowledged when it is on the disk,
  and one that is given again is known (`_deliveries`). The name of the session is on the disk before the broker has it.
- Where the broker had not kept the session, or messages are published at QoS 0, a break is a gap, and the record says
  so: it is subscribed anew after the gap is on the disk.
- What a broker retained is a state at the time of its arrival, no event; so is what comes after a break on a topic
  whose messages have no stamp of their own.
- What the broker itself drops (its queue for one session is bounded, often to 1000 messages) nobody here can see.
"""

from __future__ import annotations

import time
import uuid
from collections.abc import Hashable, Sequence
from functools import lru_cache
from typing import Any, Final

from eventlens.errors import EventlensError
from eventlens.live.access import Address, parsed
from eventlens.live.broker import PORTS, PREFIX, Broker, library
from eventlens.live.sources._base import Following, Position
from eventlens.live.sources._collecting import Collecting
from eventlens.live.sources._deliveries import Deliveries, content_of
from eventlens.live.sources._messages import NotUnderstoodError, fits, values_of
from eventlens.live.sources._table import Came, now_us
from eventlens.reading.live_keys import LiveKeys, Topic

SCHEMES: Final = tuple(PORTS)
RETURNS_S: Final = 1.0
"""So long after a break, at least, a message without a stamp may be older than its arrival [s] (no source)."""
SETTLED_S: Final = 10.0
"""So long after it is made a connection has given again all that was open [s] (no source)."""
_BARRIER: Final = "eventlens/acknowledged"
"""Nothing is subscribed there: a broker that answers to its removal has read every acknowledgement before it."""


class MqttSource(Collecting):
    """A broker."""

    def __init__(self, address: Address, following: Following) -> None:
        """EventlensError where no topic is stated, or the extra is missing."""
        library()
        super().__init__(address.name, following)
        self._address, self._wait_s = address, following.waits_s
        self._zone = following.profile.log.timezone or "UTC"
        self._keys = _keys(address, following)
        self._rule_of = lru_cache(maxsize=65_536)(self._find_rule)
        self._broker: Broker | None = None
        self._up, self._up_at, self._away, self._returned = False, 0.0, False, False
        self._started = self._subscribed = self._is_lost = False
        self._is_first = True
        self._at_qos_0 = False
        self._topics: list[str] = []
        self._barrier: tuple[int, list[int]] | None = None

    @property
    def trouble(self) -> str:
        """Whether the broker is away."""
        return "" if self._up else "not connected to the broker"

    def resume(self, position: Position | None) -> None:
        """Goes on in the session of a position; EventlensError where it is not one of a broker."""
        place: Position = position or {"client": self._keys.client or f"eventlens-{uuid.uuid4().hex[:12]}"}
        try:
            client = self._keys.client or str(place["client"])
            self.settle_at(place)
            self._deliveries = Deliveries(place.get("open") if client == place["client"] else None)
            self._topics = list(place.get("topics", ()))
            self._subscribed, self._at_qos_0 = bool(self._topics), bool(place.get("qos_0", False))
        except (KeyError, TypeError, ValueError, AttributeError):
            raise self.another() from None
        self._client, self.moved = client, position is None
        self._broker = Broker(self._address, client, self._keys.protocol, self._keys.session_h, self)
        paho = self._broker.client
        paho.on_message, paho.on_subscribe, paho.on_unsubscribe = self._on_message, self._on_subscribe, self._on_removed
        self._returned = position is not None
        if position is not None:
            self._start()

    def kept(self, position: Position) -> None:
        """Acknowledges what is on the disk."""
        with self.turn:
            self._deliveries.kept()
            self._acknowledge()
            if self._is_lost and self._up and not position["topics"]:
                self._is_lost = False
                self._subscribe()
        self._start()

    def close(self) -> None:
        """Leaves the broker; what was not kept comes again."""
        if self._broker is not None and self._started:
            self._broker.close()

    def on_up(self, *, same_session: bool) -> None:
        """The broker is there."""
        assert self._broker is not None
        with self.turn:
            back = self._away = self._returned
            self._deliveries.connected(same_session=same_session)
            self._up, self._up_at, self._barrier = True, time.monotonic(), None
            if self._subscribed and not same_session:
                self.lost_some(f"{self.name} had not kept the session: what was published meanwhile is lost.")
                self._topics, self._is_lost, self._is_first = [], True, False
            elif back and self._at_qos_0:
                self.lost_some(f"{self.name} is back; what was published at QoS 0 meanwhile is lost.")
            elif back:
                self._notes.append(f"{self.name} is there again and had kept the session.")
            else:
                self._notes += [
                    f"No time is stated for '{topic.topic}': that of its arrival counts."
                    for topic in self._keys.topics
                    if topic.time is None
                ]
            self._returned = True
            if not self._subscribed or self._is_first:
                self._subscribe()
            self._is_first = False
            self.turn.notify()

    def on_down(self) -> None:
        """The broker is gone."""
        with self.turn:
            self._up, self._barrier = False, None

    def handed(self, tokens: Sequence[Hashable]) -> None:
        """Messages that are in a batch."""
        self._deliveries.handed(token for token in tokens if isinstance(token, tuple))

    def place(self) -> Position:
        """The session, and what the broker may give again."""
        return {
            "client": self._client,
            "topics": self._topics,
            "qos_0": self._at_qos_0,
            "open": self._deliveries.said(),
        }

    def _start(self) -> None:
        assert self._broker is not None
        if not self._started:
            self._started = True
            self._broker.start()

    def _subscribe(self) -> None:
        """Asks for the topics; what is retained is given only where this is new to the session (MQTT 5)."""
        assert self._broker is not None
        self._broker.subscribe([topic.topic for topic in self._keys.topics])
        if gone := sorted(set(self._topics) - {topic.topic for topic in self._keys.topics}):
            self._broker.client.unsubscribe(gone)

    def _acknowledge(self) -> None:
        """Tells the broker what is safe, and asks for something that it answers to, to know that it knows."""
        if not self._up or self._broker is None:
            return
        client = self._broker.client
        for mid in self._deliveries.to_acknowledge():
            client.ack(mid, 1)
        if self._barrier is None:
            settled = time.monotonic() - self._up_at > SETTLED_S
            if open_yet := self._deliveries.unconfirmed(settled=settled):
                _, mid = client.unsubscribe(_BARRIER)
                self._barrier = (mid, open_yet) if mid is not None else None

    def _on_removed(self, client: Any, userdata: Any, mid: int, reasons: Any, properties: Any) -> None:
        with self.turn:
            if self._barrier is not None and self._barrier[0] == mid:
                self._deliveries.confirmed(self._barrier[1])
                self._barrier = None
                self._acknowledge()
                # what is no longer open must not stay so on the disk when nothing more comes
                self.moved = self.moved or self.table.next_s(0.0) is None
                self.turn.notify()

    def _on_subscribe(self, client: Any, userdata: Any, mid: int, reasons: Any, properties: Any) -> None:
        with self.turn:
            for topic, reason in zip(self._keys.topics, reasons, strict=False):
                if reason.is_failure:
                    self._fault = EventlensError(
                        f"to read '{topic.topic}' at {self.name}",
                        f"'{reason}'",
                        "ask its owner for the right to read it",
                    )
                elif reason.value == 0:
                    self._notes.append(f"{self.name} gives '{topic.topic}' at QoS 0 only: a break loses messages.")
                    self._at_qos_0 = True
            self._topics, self._subscribed = [topic.topic for topic in self._keys.topics], True
            self.moved = True
            self.turn.notify()

    def _on_message(self, client: Any, userdata: Any, message: Any) -> None:
        arrived, now = now_us(), time.monotonic()
        topic = _topic(message)
        with self.turn:
            token = None
            if message.qos:
                if not self._deliveries.is_new(message.mid, content_of(topic, message.payload), dup=message.dup):
                    self._acknowledge()
                    return
                token = self._deliveries.token(message.mid)
            elif not message.retain and not self._at_qos_0:
                self._at_qos_0 = self.moved = True
                self._notes.append(f"'{topic}' is published at QoS 0: what is published during a break is lost.")
            self._take(topic, message.payload, bool(message.retain), token, arrived, now)
            self.turn.notify()

    def _take(self, topic: str, payload: bytes, retained: bool, token: Any, arrived: int, now: float) -> None:
        """A message that did not come before."""
        rule = self._rule_of(topic)
        try:
            if rule is None:
                raise NotUnderstoodError("no entry of [[live.topics]] fits the topic")
            stamp, values = values_of(rule, topic, payload, self._zone)
            if not values:
                raise NotUnderstoodError("no values")
        except NotUnderstoodError as fault:
            text = payload[:1000].decode("utf-8", "replace")
            self.table.set_aside(topic, text, str(fault), now, token, arrived / 1e6)
            return
        late = stamp is None and self._may_be_old(now)
        state = retained or late
        note = "retained" if retained else "after a break, time of arrival" if late else ""
        at = arrived if stamp is None or retained else stamp
        for number, (name, value) in enumerate(values, 1):
            mark = token if number == len(values) else None
            self.table.take(Came(at, name, value, note, state, mark, arrived / 1e6), now)

    def _may_be_old(self, now: float) -> bool:
        """Whether a message without a stamp may have waited at the broker while nobody was there."""
        return self._away and now - self._up_at < max(RETURNS_S, self._wait_s)

    def _find_rule(self, topic: str) -> Topic | None:
        return next((rule for rule in self._keys.topics if fits(rule.topic, topic)), None)


def _topic(message: Any) -> str:
    try:
        return str(message.topic)
    except UnicodeDecodeError:
        return "a topic that is no text in UTF-8"


def _keys(address: Address, following: Following) -> LiveKeys:
    """The topics of the address, else those of the profile."""
    keys = following.profile.live or LiveKeys()
    if address.path:
        if keys.topics:
            raise EventlensError("topics in the profile or in the address", "both", "remove them from one of the two")
        return keys.model_copy(update={"topics": (Topic(topic=address.path),)})
    if not keys.topics:
        raise EventlensError(
            f"topics to follow at {address.name}",
            "none",
            "state [[live.topics]] in the profile, or put one behind the address",
        )
    return keys


def opened(address: str, following: Following) -> MqttSource:
    """The source of an address."""
    return MqttSource(parsed(address, PORTS, PREFIX), following)
