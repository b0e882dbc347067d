"""A server of values is followed: stamps of the source, bad status as unknown, breaks as gaps. The server is real."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from asyncua import ua

import eventlens
from eventlens.errors import EventlensError
from eventlens.live.access import parsed
from eventlens.live.sources import Following, open_source
from eventlens.live.sources.opcua import OpcUaSource
from eventlens.reading import Profile, load_profile
from tests.live.broker import free_port
from tests.live.following import Follow, Followed
from tests.live.server import RealServer

PROFILE = """
[live]
[live.nodes]
"ns=2;s=K11" = "K11"
"ns=2;s=S1" = "S1"
[[live.events]]
name = "SourceName"
value = "Severity"
[signals]
S1 = "hoist.raise.command"
K11 = "hoist.raise.contactor"
"""


@pytest.fixture(scope="module")
def server() -> Iterator[RealServer]:
    one = RealServer()
    one.start()
    yield one
    one.stop()
    one.close()


@pytest.fixture
def followed(server: RealServer, follow: Follow) -> Followed:
    """One that has told the first states: both signals off."""
    rest(server)
    return follow(server.address).until_rows(4)


def rest(server: RealServer) -> None:
    """Both signals off, whatever the test before has left."""
    for name in ("K11", "S1"):
        server.write(name, False)


def changes(followed: Followed) -> list[tuple[str, str, str]]:
    """Name, value and note after the first states."""
    return [(row["signal"], row["value"], row["note"]) for row in followed.rows()[4:]]


def test_changes_have_the_stamps_of_their_source_and_no_one_is_lost(server: RealServer, followed: Followed) -> None:
    """Fifty changes within one sending of the server (0.1 s) come all, in their order."""
    begin = time.time()
    for number in range(50):
        server.write("K11", number % 2 == 0)
    followed.until_rows(54)
    assert [value for _, value, _ in changes(followed)] == ["true", "false"] * 25
    log = eventlens.read(followed.spool.paths, followed.profile)
    assert log.rejected.is_empty()
    stamps = log.events.filter(log.events["row"] > 5)["time"].dt.epoch("us") / 1e6
    assert stamps.is_sorted()
    assert stamps.min() >= begin - 0.001


def test_the_first_value_is_a_state(followed: Followed) -> None:
    rows = followed.rows()
    assert [row["quality"] for row in rows] == ["unknown", "good", "unknown", "good"]
    assert {row["note"] for row in rows} == {"a state, no change", "first value"}


def test_a_bad_status_is_unknown_until_a_good_value(server: RealServer, followed: Followed) -> None:
    """BadNoCommunication and UncertainLastUsableValue (OPC UA part 4 and 8)."""
    server.write("K11", True)
    server.write("K11", True, status=0x8031_0000)
    server.write("K11", True, status=0x4090_0000)
    server.write("K11", False)
    followed.until_rows(8)
    assert changes(followed) == [
        ("K11", "true", ""),
        ("K11", "", "status BadNoCommunication"),
        ("K11", "", "status UncertainLastUsableValue"),
        ("K11", "false", ""),
    ]
    log = eventlens.read(followed.spool.paths, followed.profile)
    assert log.events.filter(log.events["row"] > 5)["value"].to_list() == [1.0, None, None, 0.0]


def test_numbers_words_and_what_is_no_single_value(server: RealServer, follow: Follow) -> None:
    nodes = "".join(f'"ns=2;s={name}" = "{name}"\n' for name in ("LOAD", "WORD", "LIST"))
    followed = follow(server.address, f"[live]\n[live.nodes]\n{nodes}").until_rows(5)
    for value in (1250.5, float("nan")):
        server.write("LOAD", value)
    server.write("WORD", "whole, nearly")
    server.write("LIST", [1, 2])
    followed.until_rows(9)
    found = {(row["signal"], row["value"], row["quality"]) for row in followed.rows()[5:]}
    assert found == {
        ("LOAD", "1250.5", "good"),
        ("LOAD", "", "unknown"),
        ("WORD", "whole, nearly", "good"),
        ("LIST", "[1, 2]", "unknown"),
    }
    assert any("the value is a list or a structure" in note for note in followed.notes)


def test_where_the_queue_of_the_server_ran_over_what_follows_is_a_state(tmp_path: Path) -> None:
    """Bits 0x0480 of a status (OPC UA part 4): values before this one are lost, so the change was not seen."""
    profile = tmp_path / "profile.toml"
    profile.write_text(PROFILE)
    source = OpcUaSource(parsed("opc.tcp://quay", {"opc.tcp": 4840}, "X"), Following(load_profile(profile), 0.0))
    source.settle_at({})
    source.on_up(None)
    now = datetime.now(UTC)
    for after, value, status in ((0, False, 0), (1, True, 0), (2, True, 0x0480)):
        stamp = now + timedelta(milliseconds=after)
        source.on_value("ns=2;s=K11", ua.DataValue(ua.Variant(value), ua.StatusCode(status), SourceTimestamp=stamp))
    time.sleep(0.01)
    batch = source.more(0.0)
    qualities = [line.split(",")[3] for line in batch.text.decode().splitlines()[1:]]
    assert qualities == ["unknown", "good", "good", "unknown", "good"]
    assert any("ran over" in note for note in batch.notes)


def test_events_become_rows(server: RealServer, followed: Followed) -> None:
    server.event("OVERLOAD", 700)
    followed.until_rows(5)
    assert changes(followed) == [("OVERLOAD", "700", "")]


def test_out_of_order_within_the_wait(server: RealServer, follow: Follow) -> None:
    """The stamps of two sources come in another order than they were made."""
    rest(server)
    followed = follow(server.address, wait_s=1.0).until_rows(4)
    now = time.time() - 1_772_431_200
    server.write("K11", True, now + 0.2)
    server.write("S1", True, now + 0.1)
    followed.until_rows(6)
    assert [name for name, _, _ in changes(followed)] == ["S1", "K11"]


def test_a_late_one_is_set_aside_and_said(server: RealServer, followed: Followed) -> None:
    server.write("K11", True)
    followed.until_rows(5)
    server.write("S1", True, 60.0)
    followed.until_note("1 came too late")
    assert changes(followed)[1] == ("S1", "S1=true", changes(followed)[1][2])
    assert "late: 2026-03-02T06:01:00" in changes(followed)[1][2]


def test_a_server_that_restarts_leaves_a_gap_and_is_followed_on(server: RealServer, followed: Followed) -> None:
    server.write("K11", True)
    followed.until_rows(5)
    assert followed.source.trouble == ""
    server.stop()
    followed.until_note("is lost")
    assert followed.source.trouble == "not connected to the server"
    server.start()
    server.write("K11", False)
    followed.until_note("is there again").until_rows(10)
    assert [name for name, _, _ in changes(followed)][:2] == ["K11", "restart"]
    log = eventlens.read(followed.spool.paths, followed.profile)
    assert log.holes["why"].to_list() == ["restart"]
    before = log.segments["end"][0]
    assert log.events.filter(log.events["time"] == before)["value"].to_list()[-1] == 1.0


def test_a_follower_that_ends_leaves_a_gap(server: RealServer, follow: Follow, followed: Followed) -> None:
    followed.close()
    again = follow(server.address).until_rows(9)
    assert [row["signal"] for row in again.rows()][4] == "restart"
    assert any("keeps nothing for those who are away" in note for note in again.notes)


def test_a_server_that_is_not_there_yet_is_waited_for(follow: Follow) -> None:
    followed = follow(f"opc.tcp://127.0.0.1:{free_port()}").until_note("cannot be reached")
    followed.for_s(0.5)
    assert len(followed.notes) == 1


def test_a_wrong_password_is_one_sentence_without_it(
    server: RealServer, follow: Follow, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVENTLENS_OPCUA_USER", "saw")
    monkeypatch.setenv("EVENTLENS_OPCUA_PASSWORD", "two saws")
    with pytest.raises(EventlensError, match=r"wanted to be let in by opc.tcp://.*EVENTLENS_OPCUA_USER") as caught:
        follow(server.address).until_it_fails()
    assert "saws" not in str(caught.value)


def test_a_node_that_is_not_there_is_one_sentence(server: RealServer, follow: Follow) -> None:
    with pytest.raises(EventlensError, match=r"the variable 'ns=2;s=K99' of .*BadNodeIdUnknown"):
        follow(server.address, '[live]\n[live.nodes]\n"ns=2;s=K99" = "K99"\n').until_it_fails()


def test_what_cannot_be_followed_is_refused(tmp_path: Path) -> None:
    with pytest.raises(EventlensError, match=r"variables or events to follow .*\[live.nodes\]"):
        open_source("opc.tcp://127.0.0.1:1", Following(Profile()))
    with pytest.raises(EventlensError, match=r"wanted a node id like .*'K11'"):
        Followed("opc.tcp://127.0.0.1:1", tmp_path, '[live]\n[live.nodes]\n"K11" = "K11"\n')
