"""From a broker to a finding at a broker, with one profile for following and for the review afterwards."""

from __future__ import annotations

import json
import time
from pathlib import Path

import eventlens
from eventlens.live import Follower, Following, listener, open_source
from eventlens.machine import load_machine
from eventlens.reading import load_profile
from eventlens.wiring import known_limits
from tests.live.broker import RealBroker
from tests.live.following import PATIENCE_S
from tests.live.stories import told_in

PROFILE = """
[live]
[[live.topics]]
topic = "quay/+/state"
level = 2
payload = "json"
value = "v"
time = "t"
[signals]
S1 = "hoist.raise.command"
K11 = "hoist.raise.contactor"
B3 = "hoist.brake.released"
"""
UNCONFIRMED = 7
"""The run whose brake is never confirmed."""


def record(runs: int) -> list[tuple[str, str]]:
    """Runs of five seconds, twenty seconds apart, as messages with stamps of their own."""
    told = [("S1", 0.0, 0), ("K11", 0.0, 0), ("B3", 0.0, 0)]
    for run in range(runs):
        begin = 10.0 + 20.0 * run
        for value, at in ((1, begin), (0, begin + 5.0)):
            told += [("S1", at, value), ("K11", at + 0.1, value)]
            told += [("B3", at + 0.3, value)] if run != UNCONFIRMED else []
    return [
        (f"quay/{name}/state", json.dumps({"v": value, "t": f"2026-03-02T06:{int(at) // 60:02d}:{at % 60:06.3f}Z"}))
        for name, at, value in told
    ]


def test_a_finding_gets_to_the_broker_once_and_the_end_is_what_a_review_says(tmp_path: Path) -> None:
    broker = RealBroker(tmp_path / "broker").start()
    (tmp_path / "profile.toml").write_text(PROFILE)
    (tmp_path / "machine.toml").write_text('[machine]\nid = "SAW-3"\n')
    profile = load_profile(tmp_path / "profile.toml")
    machine = load_machine(tmp_path / "machine.toml", known_limits())
    heard: list[dict[str, object]] = []
    reader = broker.client("reader", keep_s=60)
    reader.on_message = lambda client, data, message: heard.append(json.loads(message.payload))
    broker.listen(reader, "quay/found")
    state, messages = tmp_path / "state", record(20)
    end, sent = None, 0
    for part in (messages[:70], messages[70:]):  # the follower ends in between and goes on
        told = listener(f"{broker.address}/quay/found", state)
        source = open_source(broker.address, Following(profile, 0.2))
        follower = Follower(source, state, profile, machine, wait_s=0.2, listeners=[told])
        until = time.monotonic() + PATIENCE_S
        while "topics" not in (place := _position(state)) or not place["topics"]:
            follower.step(0.1)
            assert time.monotonic() < until
        broker.publish(part)
        sent += len(part)
        while _rows(state) < sent:
            follower.step(0.1)
            assert time.monotonic() < until
        end = follower.finish()
        follower.close()
    assert end is not None
    paths = sorted((state / "record").glob("*/*"))
    whole = profile.log.model_copy(update={"late_s": 0.2})
    again = eventlens.review(paths, type(profile)(**{**vars(profile), "log": whole}), machine)
    assert end.to_json() == again.to_json()
    _wait_for(heard, len(told_in(state)))
    found = [one for one in heard if one["told"] == "found"]
    assert [one["pattern"] for one in found] == ["brake_not_confirmed"]
    assert [one["number"] for one in heard] == list(range(1, len(heard) + 1))
    reader.disconnect()
    reader.loop_stop()
    broker.stop()


def _wait_for(heard: list[dict[str, object]], number: int) -> None:
    until = time.monotonic() + PATIENCE_S
    while len(heard) < number:
        time.sleep(0.02)
        assert time.monotonic() < until
    time.sleep(0.2)  # whatever would come twice


def _rows(state: Path) -> int:
    return sum(path.read_bytes().count(b"\n") - 1 for path in (state / "record").glob("*/*"))


def _position(state: Path) -> dict[str, object]:
    path = state / "snapshot.json"
    return (json.loads(path.read_text())["position"] or {}) if path.exists() else {}
