"""A redelivery is known again; the same content told once more is not mistaken for one."""

from __future__ import annotations

import json

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule

from eventlens.live.sources._deliveries import Deliveries, content_of

SAME = content_of("quay/K11", b"1")


def recorded(deliveries: Deliveries, mid: int, content: str = SAME) -> None:
    assert deliveries.is_new(mid, content, dup=False)
    deliveries.handed([deliveries.token(mid)])


def restarted(deliveries: Deliveries) -> Deliveries:
    """After a kill, with what the last batch had said."""
    again = Deliveries(json.loads(json.dumps(deliveries.said())))
    again.connected(same_session=True)
    return again


def test_a_redelivery_after_a_kill_before_the_acknowledgement_is_known() -> None:
    before = Deliveries()
    before.connected(same_session=False)
    recorded(before, 7)
    again = restarted(before)
    assert not again.is_new(7, SAME, dup=True)
    assert again.to_acknowledge() == [7]


def test_a_real_repeat_stays() -> None:
    """The same topic and payload: under another identifier, without the mark, or with another content."""
    before = Deliveries()
    before.connected(same_session=False)
    recorded(before, 7)
    again = restarted(before)
    assert again.is_new(8, SAME, dup=True)  # lost on the way the first time, never here
    assert again.is_new(7, SAME, dup=False)  # the identifier is used anew
    assert again.is_new(7, content_of("quay/K11", b"0"), dup=True)


def test_once_the_broker_has_the_acknowledgement_its_identifier_means_nothing() -> None:
    deliveries = Deliveries()
    deliveries.connected(same_session=False)
    recorded(deliveries, 7)
    deliveries.kept()
    assert deliveries.to_acknowledge() == [7]
    deliveries.confirmed(deliveries.unconfirmed(settled=False))
    assert deliveries.said() == {}
    assert deliveries.is_new(7, SAME, dup=True)  # another message, whose first delivery was lost


def test_acknowledgements_keep_the_order_of_arrival() -> None:
    """The second is safe, the first waits: nothing is acknowledged yet (MQTT 5, 4.6)."""
    deliveries = Deliveries()
    deliveries.connected(same_session=False)
    assert deliveries.is_new(1, "a", dup=False)
    first = deliveries.token(1)
    recorded(deliveries, 2, "b")
    deliveries.kept()
    assert deliveries.to_acknowledge() == []
    deliveries.handed([first])
    deliveries.kept()
    assert deliveries.to_acknowledge() == [1, 2]
    assert deliveries.to_acknowledge() == []


def test_what_came_on_a_lost_connection_is_acknowledged_when_it_came_again() -> None:
    deliveries = Deliveries()
    deliveries.connected(same_session=False)
    assert deliveries.is_new(1, "a", dup=False)
    waits = deliveries.token(1)
    deliveries.connected(same_session=True)
    deliveries.handed([waits])
    deliveries.kept()
    assert deliveries.to_acknowledge() == []
    assert not deliveries.is_new(1, "a", dup=True)
    assert deliveries.to_acknowledge() == [1]


def test_another_session_means_other_messages() -> None:
    deliveries = Deliveries()
    deliveries.connected(same_session=False)
    assert deliveries.is_new(1, "a", dup=False)
    old = deliveries.token(1)
    deliveries.connected(same_session=False)
    assert deliveries.is_new(1, "a", dup=True)
    deliveries.handed([old])  # the row of the lost session is written: it says nothing of the new message
    deliveries.kept()
    assert deliveries.to_acknowledge() == []


def test_what_never_comes_again_is_forgotten_when_the_connection_has_settled() -> None:
    before = Deliveries()
    before.connected(same_session=False)
    recorded(before, 7)
    again = restarted(before)  # the acknowledgement had reached the broker
    assert again.unconfirmed(settled=False) == []
    again.confirmed(again.unconfirmed(settled=True))
    assert again.said() == {}


class Session(RuleBasedStateMachine):
    """A broker with one session, against a follower that is killed at any step. Payloads repeat all the time."""

    @initialize()
    def begin(self) -> None:
        self.published: list[str] = []
        self.queue: list[tuple[int, int]] = []  # identifier and number of the message: not acknowledged
        self.sent: set[int] = set()
        self.record: list[int] = []
        self.disk: dict[str, str] = {}
        self.batch: list[int] = []
        self.identifier = 0
        self._connect(Deliveries(), same=False)

    def _connect(self, deliveries: Deliveries, *, same: bool = True) -> None:
        self.deliveries = deliveries
        self.deliveries.connected(same_session=same)
        self.waiting: list[tuple[tuple[int, int], int]] = []
        for mid, number in self.queue:
            self._deliver(mid, number)

    def _deliver(self, mid: int, number: int) -> None:
        if self.deliveries.is_new(mid, self.published[number], dup=mid in self.sent):
            self.waiting.append((self.deliveries.token(mid), number))
        self.sent.add(mid)

    @rule(content=st.sampled_from("ab"))
    def publish(self, content: str) -> None:
        self.identifier += 1
        self.published.append(content)
        self.queue.append((self.identifier, len(self.published) - 1))
        self._deliver(*self.queue[-1])

    @rule(data=st.data())
    def hand_out_and_keep(self, data: st.DataObject) -> None:
        number = data.draw(st.integers(0, len(self.waiting)))
        part, self.waiting = self.waiting[:number], self.waiting[number:]
        self.deliveries.handed([token for token, _ in part])
        self.disk = json.loads(json.dumps(self.deliveries.said()))
        self.record += [number for _, number in part]
        if data.draw(st.booleans()):  # else it is killed before the acknowledgement
            self.deliveries.kept()
            for mid in self.deliveries.to_acknowledge():
                self.queue = [one for one in self.queue if one[0] != mid]
        else:
            self._connect(Deliveries(self.disk))

    @rule()
    def kill(self) -> None:
        self._connect(Deliveries(self.disk))

    @rule()
    def lose_the_connection(self) -> None:
        waiting = self.waiting
        self._connect(self.deliveries)
        self.waiting = waiting + self.waiting

    def teardown(self) -> None:
        self.record += [number for _, number in getattr(self, "waiting", [])]
        assert sorted(self.record) == list(range(len(self.published)))  # nothing lost, nothing doubled


TestSession = Session.TestCase
TestSession.settings = settings(max_examples=60, stateful_step_count=30, deadline=None)
