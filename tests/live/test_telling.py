"""Findings go to a broker in their order, each once, through breaks of the broker and restarts of the follower."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from eventlens.errors import EventlensError
from eventlens.live.journal import Lines
from eventlens.live.telling import BrokerListener, is_address, listener
from eventlens.live.told import Message
from tests.live.broker import RealBroker
from tests.live.following import PATIENCE_S

TOPIC = "quay/saw-3/findings"
SIX = datetime(2026, 3, 2, 6, tzinfo=UTC)


def message(number: int) -> Message:
    one = {"pattern": "drop_out", "motion": "hoist", "signal": "hoist.raise.contactor", "start": SIX, "end": SIX}
    one |= {"certainty": "certain", "measured": 1.0, "limit": 2.0, "direction": "raise", "rows": [1], "n": 0}
    return Message(number, "found", "", one, False, 0.0, 0.0, SIX, False)


class Reader:
    """Somebody who reads findings in a session of his own."""

    def __init__(self, broker: RealBroker) -> None:
        self.numbers: list[int] = []
        self._client = broker.client("reader", keep_s=600)
        self._client.on_message = self._take
        broker.listen(self._client, TOPIC)

    def _take(self, client: Any, userdata: Any, told: Any) -> None:
        self.numbers.append(json.loads(told.payload)["number"])

    def until(self, number: int) -> list[int]:
        end = time.monotonic() + PATIENCE_S
        while len(self.numbers) < number and time.monotonic() < end:
            time.sleep(0.02)
        time.sleep(0.2)  # whatever would come twice
        return self.numbers

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[RealBroker]:
    one = RealBroker(tmp_path / "broker").start()
    yield one
    one.stop()


def telling(broker: RealBroker, state: Path) -> BrokerListener:
    return BrokerListener(f"{broker.address}/{TOPIC}", state)


def test_each_once_in_their_order_and_what_is_missing_after_a_restart(broker: RealBroker, tmp_path: Path) -> None:
    reader = Reader(broker)
    first = telling(broker, tmp_path)
    assert first.last() is None
    first.tell([message(number) for number in (1, 2, 3)])
    assert reader.until(3) == [1, 2, 3]
    first.close()
    again = telling(broker, tmp_path)
    assert again.last() == 3, "whoever tells it goes on behind it"
    again.tell([message(4)])
    assert reader.until(4) == [1, 2, 3, 4]
    again.close()
    reader.close()


def test_a_broker_that_is_away_gets_them_when_it_is_back(broker: RealBroker, tmp_path: Path) -> None:
    reader = Reader(broker)
    one = telling(broker, tmp_path)
    one.tell([message(1)])
    assert reader.until(1) == [1]
    broker.stop()
    one.tell([message(2), message(3)])
    broker.start()
    one.tell([message(4)])
    assert reader.until(4) == [1, 2, 3, 4]
    one.close()
    reader.close()


def test_what_was_not_sent_when_it_ended_is_told_the_next_time(broker: RealBroker, tmp_path: Path) -> None:
    one = telling(broker, tmp_path)
    one.last()
    broker.stop()
    one.tell([message(7), message(8)])
    one.close()
    broker.start()
    again = telling(broker, tmp_path)
    assert again.last() == 6
    again.close()


def test_what_is_no_topic_or_no_state_is_refused(broker: RealBroker, tmp_path: Path) -> None:
    with pytest.raises(EventlensError, match="one topic for findings"):
        BrokerListener("mqtt://quay/a/#", tmp_path)
    one = telling(broker, tmp_path)
    one.tell([message(1)])
    one.close()
    (state,) = tmp_path.glob("sent-*.json")
    state.write_text("[]")
    with pytest.raises(EventlensError, match="how far findings were sent"):
        telling(broker, tmp_path)


def test_an_address_or_a_file(tmp_path: Path) -> None:
    assert is_address("mqtts://quay/a")
    assert not is_address("mqtt")
    lines = listener(str(tmp_path / "findings.jsonl"), tmp_path)
    assert isinstance(lines, Lines)
    lines.close()
