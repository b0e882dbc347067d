"""A broker is followed without loss and without doubling, whoever breaks off when. The broker is a real one."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

import eventlens
from eventlens.errors import EventlensError
from eventlens.live.sources import Following, open_source
from tests.live.broker import RealBroker, program
from tests.live.following import Follow, Followed

PROFILE = """
[live]
[[live.topics]]
topic = "quay/saw-3/+/state"
level = 3
[[live.topics]]
topic = "quay/saw-3/json"
payload = "json"
name = "tag"
value = "v"
time = "at"
[signals]
S1 = "hoist.raise.command"
K11 = "hoist.raise.contactor"
B3 = { signal = "hoist.brake.released", on = "open" }
"""
JSON = "quay/saw-3/json"


def told(second: float, value: str, tag: str = "K11") -> tuple[str, str]:
    """A message with its own stamp."""
    return JSON, f'{{"tag": "{tag}", "v": "{value}", "at": "2026-03-02T06:00:{second:09.6f}Z"}}'


def in_good_order(followed: Followed) -> list[str]:
    return [row["value"] for row in followed.rows() if row["time"] and row["quality"] == "good"]


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[RealBroker]:
    one = RealBroker(tmp_path / "broker").start()
    yield one
    one.stop()


def test_what_is_published_becomes_a_record_that_the_same_profile_reads(broker: RealBroker, follow: Follow) -> None:
    """Two topics; a run of two seconds with its brake (counted by hand)."""
    followed = follow(broker.address).until_subscribed()
    begin = [told(0, "0", "S1"), told(0, "0"), told(0, "shut", "B3")]
    raising = [told(1, "1", "S1"), told(1.1, "1"), told(1.3, "open", "B3")]
    end = [told(3, "0", "S1"), told(3.1, "0"), told(3.2, "shut", "B3")]
    broker.publish([*begin, *raising, *end])
    followed.until_rows(9)
    broker.publish([("quay/saw-3/K12/state", "1")])
    followed.until_rows(10)
    assert ("K12", "1") in followed.values()
    found = eventlens.review(followed.spool.paths, followed.profile)
    (run,) = found.runs.to_dicts()
    assert (run["end"] - run["start"]).total_seconds() == 2.0
    assert found.log.rejected.is_empty()
    assert any("that of its arrival counts" in note for note in followed.notes)


def test_a_broker_that_restarts_in_the_middle_loses_nothing(broker: RealBroker, follow: Follow) -> None:
    followed = follow(broker.address).until_subscribed()
    broker.publish([told(second, str(second)) for second in range(5)])
    followed.until_rows(5)
    assert followed.source.trouble == ""
    broker.restart()
    broker.publish([told(second, str(second)) for second in range(5, 10)])
    followed.until_rows(10).for_s(0.2)
    assert followed.source.trouble == ""
    assert in_good_order(followed) == [str(second) for second in range(10)]
    assert any("is lost" in note for note in followed.notes)
    assert any("had kept the session" in note for note in followed.notes)


def test_what_is_published_while_nobody_follows_is_there_afterwards(broker: RealBroker, follow: Follow) -> None:
    follow(broker.address).until_subscribed().close()
    broker.publish([told(second, str(second)) for second in range(20)])
    again = follow(broker.address).until_rows(20).for_s(0.2)
    assert in_good_order(again) == [str(second) for second in range(20)]


@pytest.mark.parametrize("keep", [True, False], ids=["after the acknowledgement", "before it"])
def test_a_follower_that_ends_between_disk_and_acknowledgement(broker: RealBroker, follow: Follow, keep: bool) -> None:
    """The same payload again and again: what the broker gives again is dropped, what was published again stays."""
    first = follow(broker.address).until_subscribed()
    broker.publish([told(1, "same")] * 5)
    first.until_rows(5, keep=keep).close()
    broker.publish([told(1, "same")] * 5)
    again = follow(broker.address).until_rows(10).for_s(0.3)
    assert in_good_order(again) == ["same"] * 10


def test_a_follower_that_ends_while_records_wait(broker: RealBroker, follow: Follow) -> None:
    """They are on no disk and not acknowledged: they come again."""
    first = follow(broker.address, wait_s=60.0).until_subscribed()
    broker.publish([told(second, str(second)) for second in range(5)])
    first.for_s(0.3).close()
    assert first.text() == ""
    again = follow(broker.address).until_rows(5).for_s(0.2)
    assert in_good_order(again) == [str(second) for second in range(5)]


KILLED = """
import sys
from pathlib import Path
from tests.live.following import Follow, Followed
followed = Followed(sys.argv[1], Path(sys.argv[2]), sys.argv[3])
print("up", flush=True)
while True:
    followed.take()
"""


def test_a_follower_that_is_killed_again_and_again(broker: RealBroker, follow: Follow, tmp_path: Path) -> None:
    """SIGKILL at moments that nobody chose, while somebody publishes; then the rest is fetched."""
    follow(broker.address).until_subscribed().close()
    for part in range(2):
        broker.publish([told(second, str(part * 60 + second)) for second in range(60)])
        command = [sys.executable, "-c", KILLED, broker.address, str(tmp_path / "followed"), PROFILE]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == b"up\n"
            time.sleep((0.02, 0.15)[part])
            process.kill()
    again = follow(broker.address)
    again.until(lambda one: sum(bool(row["value"]) for row in one.rows()) >= 120).for_s(0.3)
    # stamps of a later part may come behind those of an earlier one: late ones are set aside, but none is missing
    seen = sorted({int(row["value"].split("=")[-1]) for row in again.rows() if row["value"]})
    assert seen == list(range(120))
    by_themselves = [row["value"] for row in again.rows() if row["value"] and row["note"] != "a late record"]
    assert len(by_themselves) == 120


def test_a_broker_that_forgets_the_session_leaves_a_gap(tmp_path: Path, follow: Follow) -> None:
    broker = RealBroker(tmp_path / "broker", keeps=False).start()
    try:
        followed = follow(broker.address).until_subscribed()
        broker.publish([told(0, "0"), told(1, "1")])
        followed.until_rows(2)
        broker.restart()
        followed.until_note("had not kept the session")
        followed.until_subscribed().for_s(0.3)
        broker.publish([told(30, "1"), told(31, "0")])
        followed.until_rows(5)
        (hole,) = eventlens.read(followed.spool.paths, followed.profile).holes.to_dicts()
        assert (hole["end"] - hole["start"]).total_seconds() == 29.0
    finally:
        broker.stop()


def test_a_retained_message_is_a_state_now_and_no_event(broker: RealBroker, follow: Follow) -> None:
    broker.publish([told(0, "1")], retain=True)
    followed = follow(broker.address).until_rows(2)
    unknown, state = followed.rows()
    assert (unknown["quality"], state["value"], state["note"]) == ("unknown", "1", "retained")
    assert not state["time"].startswith("2026-03-02"), "the time of its arrival, not that of long ago"
    followed.close()
    again = follow(broker.address).until_note("had kept the session").for_s(0.3)
    assert len(again.rows()) == 2, "a session that goes on is not told it again"


def test_messages_without_a_stamp_that_waited_are_states(broker: RealBroker, follow: Follow) -> None:
    """They changed somewhere in the break: when is not known, so no edge is made up."""
    followed = follow(broker.address).until_subscribed()
    broker.publish([("quay/saw-3/K11/state", "0")])
    followed.until_rows(1).close()
    broker.publish([("quay/saw-3/K11/state", "1")])
    again = follow(broker.address).until_rows(3)
    assert [row["quality"] for row in again.rows()] == ["good", "unknown", "good"]


def test_out_of_order_within_the_wait_and_late_beyond_it(broker: RealBroker, follow: Follow) -> None:
    followed = follow(broker.address, wait_s=0.5).until_subscribed()
    broker.publish([told(second, str(second)) for second in (3, 1, 2)])
    followed.until_rows(3)
    broker.publish([told(4, "4"), told(0, "0", "S1"), told(2.5, "2.5")])
    followed.until(lambda one: ("K11", "4") in one.values())
    good = [(row["signal"], row["value"]) for row in followed.rows() if row["time"] and row["quality"] == "good"]
    assert good[:3] == [("K11", "1"), ("K11", "2"), ("K11", "3")]
    assert ("S1", "0") in good, "the last that is known of S1 holds as a state"
    assert good[-1] == ("K11", "4")
    (note,) = [note for note in followed.notes if "too late" in note]
    assert note.startswith("2 came too late")
    log = eventlens.read(followed.spool.paths, followed.profile)
    assert log.rejected.height == 2
    assert log.events["time"].is_sorted()


def test_hostile_messages_are_set_aside_each_with_its_reason(broker: RealBroker, follow: Follow) -> None:
    followed = follow(broker.address).until_subscribed()
    hostile: list[tuple[str, str | bytes]] = [
        (JSON, '{"tag": "K11", "v": '),
        (JSON, b"1" * 1_000_000),
        told(1, "1", "a\\nb"),
        (JSON, '{"tag": "K11", "v": NaN, "at": "2026-03-02T06:00:00Z"}'),
        (JSON, '{"tag": "K11", "v": 1}'),
        (JSON, b"\xff\xfe\x00"),
        (JSON, '{"tag": "K11", "v": 1, "at": "9999-01-01T00:00:00Z"}'),
    ]
    broker.publish([told(1, "0"), *hostile, told(2, "1", 'a,\\"b\\"'), told(3, "1")])
    followed.until_rows(len(hostile) + 3).for_s(0.2)
    log = eventlens.read(followed.spool.paths, followed.profile)
    assert log.rejected.height == len(hostile)
    # those that name K11 may be changes of it: unknown from the row before them to its next record
    assert log.events["value"].to_list() == [0.0, *[None] * 4, 1.0]
    assert 'a,"b"' in log.names["name"].to_list()
    reasons = " ".join(followed.notes)
    for reason in ("no JSON", "1000000 bytes", "control characters", "NaN", "no field 'at'", "UTF-8", "out of range"):
        assert reason in reasons
    followed.close()
    again = follow(broker.address).for_s(0.5)
    assert len(again.rows()) == len(hostile) + 3, "they are acknowledged: nothing of it comes again"


def test_topics_in_the_address(broker: RealBroker, follow: Follow) -> None:
    """Without a profile the topic is the name and the payload the value."""
    followed = follow(f"{broker.address}/quay/#", None).until_subscribed()
    broker.publish([("quay/hoist.raise.contactor", "1")])
    assert followed.until_rows(1).values() == [("quay/hoist.raise.contactor", "1")]


def test_what_is_published_at_qos_0_is_said_and_a_break_is_a_gap(broker: RealBroker, follow: Follow) -> None:
    followed = follow(broker.address).until_subscribed()
    broker.publish([told(0, "0")], qos=0)
    followed.until_rows(1)
    assert any("published at QoS 0" in note for note in followed.notes)
    followed.close()
    again = follow(broker.address).until_note("is back; what was published at QoS 0")
    broker.publish([told(9, "1")])
    again.until_rows(3)
    assert [row["signal"] for row in again.rows()] == ["K11", "restart", "K11"]


def test_an_older_protocol(broker: RealBroker, follow: Follow) -> None:
    followed = follow(broker.address, PROFILE.replace("[live]", '[live]\nprotocol = "3.1.1"')).until_subscribed()
    broker.publish([told(0, "0")])
    followed.until_rows(1, keep=False).close()
    broker.publish([told(1, "1")])
    again = follow(broker.address, PROFILE.replace("[live]", '[live]\nprotocol = "3.1.1"')).until_rows(2).for_s(0.2)
    assert in_good_order(again) == ["0", "1"]


def test_a_broker_that_is_not_there_yet_is_waited_for(tmp_path: Path, follow: Follow) -> None:
    broker = RealBroker(tmp_path / "broker")
    followed = follow(broker.address).until_note("cannot be reached")
    assert followed.source.trouble == "not connected to the broker"
    broker.start()
    try:
        followed.until_subscribed()
        broker.publish([told(0, "0")])
        followed.until_rows(1)
        assert sum("cannot be reached" in note for note in followed.notes) == 1
    finally:
        broker.stop()


@pytest.fixture
def guarded(tmp_path: Path) -> Iterator[RealBroker]:
    """A broker that asks for a password: of the user saw, it is three saws."""
    passwords = tmp_path / "passwords"
    passwords.write_text("saw:three saws\n")
    passwords.chmod(0o600)
    hasher = program().replace("sbin/mosquitto", "bin/mosquitto_passwd")
    subprocess.run([hasher, "-U", str(passwords)], check=True, capture_output=True)
    one = RealBroker(tmp_path / "guarded", f"password_file {passwords}", "allow_anonymous false").start()
    yield one
    one.stop()


def test_a_wrong_password_is_one_sentence_without_it(
    guarded: RealBroker, follow: Follow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVENTLENS_MQTT_USER", "saw")
    monkeypatch.setenv("EVENTLENS_MQTT_PASSWORD", "two saws")
    with pytest.raises(EventlensError, match=r"wanted to be let in by mqtt://.*; check EVENTLENS_MQTT_USER") as caught:
        follow(guarded.address).until_it_fails()
    assert "saws" not in str(caught.value)


def test_the_right_password_from_a_file(
    guarded: RealBroker, follow: Follow, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "secret").write_text("three saws\n")
    monkeypatch.setenv("EVENTLENS_MQTT_PASSWORD_FILE", str(tmp_path / "secret"))
    followed = follow(guarded.address.replace("//", "//saw@")).until_subscribed()
    assert any("password goes unencrypted" in note for note in followed.notes)
    assert "three saws" not in followed.source.name + " ".join(followed.notes)
    assert "saws" not in (tmp_path / "followed/state/snapshot.json").read_text()


# the library leaves the socket of a handshake that failed to the garbage collector
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_tls_with_a_certificate_that_is_trusted_and_one_that_is_not(
    tmp_path: Path, follow: Follow, monkeypatch: pytest.MonkeyPatch
) -> None:
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    names = ["-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1"]
    make = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", *names]
    subprocess.run([*make, "-keyout", str(key), "-out", str(certificate)], check=True, capture_output=True)
    broker = RealBroker(tmp_path / "broker", f"certfile {certificate}", f"keyfile {key}").start()
    address = broker.address.replace("mqtt:", "mqtts:")
    try:
        with pytest.raises(EventlensError, match=r"certificate of mqtts://.* that is trusted.*EVENTLENS_MQTT_CA"):
            follow(address).until_it_fails()
        monkeypatch.setenv("EVENTLENS_MQTT_CA", str(certificate))
        (tmp_path / "followed" / "state" / "lock").unlink()
        follow(address).until_subscribed()
    finally:
        broker.stop()


def test_another_source_of_a_record_is_refused(follow: Follow) -> None:
    source = open_source("mqtt://127.0.0.1:1/quay/#", Following())
    with pytest.raises(EventlensError, match="wanted a record that was followed from mqtt://"):
        source.resume({"offset": 5, "head": ""})
    source.close()


def test_a_topic_must_be_stated_once() -> None:
    with pytest.raises(EventlensError, match=r"wanted topics to follow .*\[\[live.topics\]\]"):
        open_source("mqtt://127.0.0.1", Following())
