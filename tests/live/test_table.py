"""The table that a broker's or a server's values become: order, states, gaps, and what is set aside."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import eventlens
from eventlens.live.sources._rows import HEADER
from eventlens.live.sources._table import AHEAD_S, SET_BACK_ROWS, SET_BACK_S, Came, Table
from eventlens.reading import load_profile

AT = 1_772_431_200.0
"""2026-03-02T06:00:00Z [s]."""
PROFILE = """
[live]
[[live.topics]]
topic = "quay/#"
[signals]
K11 = "hoist.raise.contactor"
"""


def came(after_s: float, value: str | None = "1", name: str = "K11", **more: object) -> Came:
    stamp = round((AT + after_s) * 1e6)
    return Came(stamp, name, value, at=AT + after_s, **more)  # type: ignore[arg-type]


def table(wait_s: float = 1.0, **more: object) -> Table:
    return Table(wait_s, "restart", more.pop("floor", None), begun=False, **more)  # type: ignore[arg-type]


def rows(one: Table, now: float = 1e6) -> list[tuple[str, str, str, str]]:
    """Seconds after six with their hundredths, name, value and quality of what is ready."""
    text = one.written(now, 1 << 20).text
    assert not text or text.startswith(HEADER)
    found = csv.DictReader(io.StringIO(text.decode()))
    return [(row["time"][17:22], row["signal"], row["value"], row["quality"]) for row in found]


def test_what_comes_out_of_order_within_the_wait_is_put_in_place() -> None:
    one = table()
    for after in (0.2, 0.1, 0.3):
        one.take(came(after, str(after)), now=after)
    assert [value for _, _, value, _ in rows(one)] == ["0.1", "0.2", "0.3"]
    assert one.notes() == []


def test_a_late_one_is_set_aside_and_reported_once_and_holds_as_a_state() -> None:
    one = table()
    one.take(came(5.0, "1"), now=0.0)
    one.take(came(5.5, "0", name="S1"), now=0.0)
    assert len(rows(one, now=2.0)) == 2
    one._begun = False
    one.take(came(5.2, "0"), now=3.0)
    assert rows(one, now=3.0) == [
        ("", "K11", "K11=0", "unknown"),
        ("05.50", "K11", "", "unknown"),
        ("05.50", "K11", "0", "good"),
    ]
    (note,) = one.notes()
    assert "1 came too late" in note
    assert "2026-03-02T06:00:05.200000Z" in note
    assert "0.3 s behind" in note
    assert one.notes() == []


def test_a_late_one_that_a_later_record_of_its_signal_outdates_is_only_set_aside() -> None:
    one = table()
    one.take(came(5.0, "1"), now=0.0)
    rows(one, now=2.0)
    one._begun = False
    one.take(came(4.0, "0"), now=3.0)
    assert rows(one, now=3.0) == [("", "K11", "K11=0", "unknown")]


def test_after_a_gap_a_row_says_so_and_what_waited_stands_before_it() -> None:
    one = table()
    one.take(came(0.0), now=0.0)
    one.gap()
    assert one.is_gap
    one.take(came(9.0, "0"), now=9.0)
    assert rows(one) == [
        ("00.00", "K11", "1", "good"),
        ("09.00", "restart", "1", "good"),
        ("09.00", "K11", "0", "good"),
    ]
    assert not one.is_gap


def test_a_gap_of_an_earlier_run_is_still_told() -> None:
    one = table(floor=round(AT * 1e6), gap=True)
    one.take(came(9.0), now=0.0)
    assert [name for _, name, _, _ in rows(one)] == ["restart", "K11"]


def test_a_state_is_no_change(tmp_path: Path) -> None:
    """The signal is unknown up to it: reading sees no edge (counted by hand: a run begins unseen)."""
    one = table()
    one.take(came(0.0, "0"), now=0.0)
    one.take(came(5.0, "1", state=True), now=5.0)
    one.take(came(7.0, "0"), now=7.0)
    path, profile = tmp_path / "followed.csv", tmp_path / "profile.toml"
    path.write_bytes(one.written(1e6, 1 << 20).text)
    profile.write_text(PROFILE)
    log = eventlens.read([path], load_profile(profile))
    assert log.events["value"].to_list() == [0.0, None, 1.0, 0.0]
    (run,) = eventlens.review([path], load_profile(profile)).runs.to_dicts()
    assert (run["start_seen"], run["end_seen"]) == (False, True)


def test_a_state_holds_now_whatever_its_clock_says() -> None:
    one = table(floor=round((AT + 8) * 1e6))
    one.take(came(5.0, "1", state=True), now=0.0)
    assert rows(one) == [("08.00", "K11", "", "unknown"), ("08.00", "K11", "1", "good")]
    assert one.notes() == []


def test_nothing_is_carried_over_a_gap(tmp_path: Path) -> None:
    one = table()
    one.take(came(0.0, "0"), now=0.0)
    one.take(came(1.0, "1"), now=1.0)
    one.gap()
    one.take(came(60.0, "1"), now=60.0)
    one.take(came(61.0, "0"), now=61.0)
    path, profile = tmp_path / "followed.csv", tmp_path / "profile.toml"
    path.write_bytes(one.written(1e6, 1 << 20).text)
    profile.write_text(PROFILE)
    log = eventlens.read([path], load_profile(profile))
    (hole,) = log.holes.to_dicts()
    assert (hole["end"] - hole["start"]).total_seconds() == 59.0
    assert log.observed_s == 2.0


def test_what_cannot_stand_in_a_row_is_set_aside_and_reading_counts_it(tmp_path: Path) -> None:
    one = table()
    one.take(came(0.0, "0"), now=0.0)
    hostile = [
        came(1.0, "1", name="a\nb,c"),
        came(1.0, "1\n2026-03-02T06:00:00Z,K11,1,good,"),
        came(1.0, "1", name=""),
        came(1.0, "9" * 201),
        came(1.0, "1", name="\ud800"),
        came(-2e9, "1"),
        came(1e12, "1"),
    ]
    for one_of_them in hostile:
        one.take(one_of_them, now=1.0)
    one.set_aside("quay/x", '{"a": "b,\n', "no JSON", now=1.0)
    one.take(came(2.0, "1", name='K,"12"'), now=2.0)  # a name with commas and quotes is one
    path, profile = tmp_path / "followed.csv", tmp_path / "profile.toml"
    path.write_bytes(one.written(1e6, 1 << 20).text)
    profile.write_text(PROFILE)
    log = eventlens.read([path], load_profile(profile))
    assert log.rejected.height == len(hostile) + 1
    # the four whose name is K11 may be changes of it: unknown from the row before them
    assert log.events["value"].to_list() == [0.0, None, None, None, None]
    assert 'K,"12"' in log.names["name"].to_list()
    assert sum(int(note.split()[0]) for note in one.notes()) == len(hostile) + 1


def test_what_is_not_understood_stands_behind_what_came_before_it_and_before_what_comes_after() -> None:
    """Were it written at once it would stand before what waits, and K11 would be known to be 1 where it is not."""
    one = table()
    one.set_aside("quay/x", "first", "no JSON", now=0.0)
    one.take(came(0.2, "1"), now=0.2)
    one.take(came(0.1, "0"), now=0.3)
    one.set_aside("quay/x", "K11", "no JSON", now=0.4)
    one.take(came(0.3, "0", name="S1"), now=0.5)
    assert [value for _, _, value, _ in rows(one)] == ["first", "0", "1", "K11", "0"]


def test_what_is_not_understood_waits_no_longer_than_a_record() -> None:
    one = table(wait_s=1.0)
    one.take(came(0.0, "1"), now=0.0)
    one.set_aside("quay/x", "{", "no JSON", now=0.5)
    assert [value for _, _, value, _ in rows(one, now=1.4)] == ["1", "{"]  # of one stamp: given together


def test_a_stamp_a_day_ahead_from_both_sides() -> None:
    """Else everything that follows would be late."""
    for ahead, taken in ((AHEAD_S, True), (AHEAD_S + 1.0, False)):
        one = table()
        stamp = round((AT + ahead) * 1e6)
        one.take(Came(stamp, "K11", "1", at=AT), now=0.0)
        assert bool(rows(one)[0][0]) is taken


def test_a_clock_that_is_set_back_makes_not_everything_late_for_ever() -> None:
    one = table(wait_s=0.0)
    one.take(came(7200.0), now=0.0)
    rows(one, now=0.1)
    one._begun = False
    every = SET_BACK_S / SET_BACK_ROWS * 1.1
    for number in range(SET_BACK_ROWS + 3):
        one.take(came(number * every, str(number)), now=1.0 + number * every)
    found = rows(one)
    in_time = [value for at, _, value, quality in found if at and quality == "good" and at != "00.00"]
    assert in_time[-2:] == [str(SET_BACK_ROWS + 1), str(SET_BACK_ROWS + 2)]
    assert any("set back by about" in note for note in one.notes())


def test_no_more_is_given_than_was_asked_for_and_nothing_is_lost_between() -> None:
    one = table()
    for number in range(100):
        one.take(came(number / 100, str(number)), now=0.0)
    found: list[str] = []
    while (part := one.written(1e6, 500)).text:
        assert len(part.text) < 700
        found.append(part.text.decode())
    values = [row["value"] for row in csv.DictReader(io.StringIO("".join(found)))]
    assert values == [str(number) for number in range(100)]
