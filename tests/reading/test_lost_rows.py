"""A row that was set aside but names a signal: the signal may have changed there, so it is unknown to its next record.

Nothing about the machine may be found from what such a row leaves behind. Expected histories are counted by hand.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import eventlens
from eventlens.machine import Machine
from eventlens.reading import Log, read
from eventlens.reading.entries import Message
from eventlens.reading.profile import LogKeys, Profile, Source, Word
from tests.logs import HOIST, at, merged, off, run
from tests.reading.reading_logs import RUN, balanced, history, on_seconds, profile, read_text, write

H = "time;signal;value\n"
BEGIN = "2024-05-01 06:00:"
ROWS = [f"{BEGIN}{second:02};RUN;{value}" for second, value in ((0, 0), (10, 1), (20, 0), (30, 1), (40, 0))]
LOST = {
    "stray stamp": "2024-05-0x 06:00:20;RUN;0",
    "no stamp": ";RUN;0",
    "cut stamp": "06:0;RUN;0",
    "no value": f"{BEGIN}20;RUN",
    "quotes": f'"{BEGIN}2x";"RUN";"0"',
}


def values(log: Log, signal: str = RUN) -> list[tuple[int, float | None]]:
    begin = round(log.start.timestamp())
    return [(round(time / 1e6) - begin, value) for _, time, value in history(log, signal)]


@pytest.mark.parametrize("kind", LOST)
def test_the_signal_is_unknown_from_the_row_before_to_its_next_record(kind: str, tmp_path: Path) -> None:
    log = read_text(tmp_path, H + "\n".join([*ROWS[:2], LOST[kind], *ROWS[3:]]) + "\n")
    assert log.rejected["row"].to_list() == [4]
    assert values(log) == [(0, 0.0), (10, 1.0), (10, None), (30, 1.0), (40, 0.0)]
    assert on_seconds(log) == 10
    assert any("1 rows that were set aside name a signal (line 4)" in note for note in log.notes)


def test_the_row_before_may_be_of_another_signal(tmp_path: Path) -> None:
    rows = [*ROWS[:2], f"{BEGIN}15;FB;1", LOST["stray stamp"], f"{BEGIN}25;FB;0", *ROWS[3:]]
    log = read_text(tmp_path, H + "\n".join(rows) + "\n")
    assert values(log) == [(0, 0.0), (10, 1.0), (15, None), (30, 1.0), (40, 0.0)]
    assert values(log, "hoist.brake.released") == [(15, 1.0), (25, 0.0)]  # the neighbour is not in doubt


@pytest.mark.parametrize(
    "row", ["2024-05-0x 06:00:20;K99;0", "2024-05-0x 06:00:20;RUNNING;0", "--- page 2 ---", "RUN?"]
)
def test_a_row_that_names_no_signal_changes_nothing(row: str, tmp_path: Path) -> None:
    log = read_text(tmp_path, H + "\n".join([*ROWS[:2], row, *ROWS[2:]]) + "\n")
    assert values(log) == [(0, 0.0), (10, 1.0), (20, 0.0), (30, 1.0), (40, 0.0)]
    assert not any("name a signal" in note for note in log.notes)


def test_before_the_first_and_after_the_last_row_nothing_is_known_anyway(tmp_path: Path) -> None:
    log = read_text(tmp_path, H + "\n".join([LOST["no stamp"], *ROWS, LOST["no stamp"]]) + "\n")
    assert [value for value in values(log) if value[1] is not None] == [
        (0, 0.0),
        (10, 1.0),
        (20, 0.0),
        (30, 1.0),
        (40, 0.0),
    ]
    assert on_seconds(log) == 20


def test_newest_first(tmp_path: Path) -> None:
    rows = [*ROWS[:2], LOST["stray stamp"], *ROWS[3:]]
    log = read_text(tmp_path, H + "\n".join(reversed(rows)) + "\n")
    assert values(log) == [(0, 0.0), (10, 1.0), (10, None), (30, 1.0), (40, 0.0)]


def test_in_the_second_of_two_files(tmp_path: Path) -> None:
    one = write(tmp_path, H + "\n".join(ROWS[:2]) + "\n", "a.csv")
    two = write(tmp_path, H + "\n".join([LOST["stray stamp"], *ROWS[3:]]) + "\n", "b.csv")
    log = read([two, one], profile())
    balanced(log)
    assert values(log) == [(0, 0.0), (10, 1.0), (10, None), (30, 1.0), (40, 0.0)]


def test_all_signals_of_a_name_and_of_a_packed_word(tmp_path: Path) -> None:
    rows = [f"{BEGIN}00;SW;0", f"{BEGIN}10;SW;3", "20;SW;1", f"{BEGIN}30;SW;3", f"{BEGIN}40;SW;0"]
    bits = {0: Source(signal=RUN), 1: Source(signal="hoist.fast.contactor")}
    log = read_text(tmp_path, H + "\n".join(rows) + "\n", words={"SW": Word(bits)})
    for signal in (RUN, "hoist.fast.contactor"):
        assert values(log, signal)[2] == (10, None)
    both = Profile(
        signals={"SW": (Source(signal=RUN, on=("1", "3")), Source(signal="hoist.fast.contactor", on=("3",)))}
    )
    log = read(write(tmp_path, H + "\n".join(rows) + "\n"), both)
    for signal in (RUN, "hoist.fast.contactor"):
        assert values(log, signal)[2] == (10, None)


def test_names_in_two_columns(tmp_path: Path) -> None:
    text = "time;id;part;value\n" + "".join(f"{BEGIN}{at:02};82;4;{at // 10 % 2}\n" for at in (0, 10, 30))
    text = text.replace(f"{BEGIN}30", f"{BEGIN}2x;82;4;0\n{BEGIN}30")
    log = read_text(tmp_path, text, {"82 4": Source(signal=RUN)}, name=("id", "part"), value="value")
    assert values(log) == [(0, 0.0), (10, 1.0), (10, None), (30, 1.0)]


def test_messages(tmp_path: Path) -> None:
    rows = [f"{BEGIN}00;17;C", "2x;17;G", f"{BEGIN}30;18;C", f"{BEGIN}40;17;C", f"{BEGIN}50;17;G"]
    keys = LogKeys.model_validate({"layout": "messages", "name": "no", "value": "state"})
    found = Profile(keys, messages={"17": Message(signal="overload.trip")})
    log = read(write(tmp_path, "time;no;state\n" + "\n".join(rows) + "\n"), found)
    balanced(log)
    assert values(log, "overload.trip") == [(0, 1.0), (0, None), (40, 1.0), (50, 0.0)]


def test_json_records(tmp_path: Path) -> None:
    each = [
        json.dumps({"time": f"{BEGIN}{second:02}", "tag": "RUN", "value": second // 10 % 2})
        for second in (0, 10, 20, 30, 40)
    ]
    each[2] = each[2][:-5]
    log = read(write(tmp_path, "\n".join(each) + "\n", "log.json"), profile())
    assert values(log) == [(0, 0.0), (10, 1.0), (10, None), (30, 1.0), (40, 0.0)]


MACHINE = Machine.model_validate({"machine": {"id": "DOCK-5", "group": "M3"}})


def test_no_machine_finding_arises_from_any_lost_row(tmp_path: Path) -> None:
    records = merged(
        off(*HOIST), *(run(second, second + 6, ("raise", "lower")[second // 20 % 2]) for second in range(10, 210, 20))
    )
    lines = [f"{at(second):%Y-%m-%dT%H:%M:%S.%f}Z,{signal},{value:g}" for second, signal, value in records]
    head = "time,signal,value"
    whole = eventlens.review(write(tmp_path, "\n".join([head, *lines]) + "\n"), machine=MACHINE)
    usual = set(whole.findings["pattern"])
    for place in range(len(HOIST), len(lines), 3):
        damaged = [*lines[:place], "at?" + lines[place][10:], *lines[place + 1 :]]
        found = eventlens.review(write(tmp_path, "\n".join([head, *damaged]) + "\n"), machine=MACHINE)
        assert found.log.rejected.height == 1
        assert set(found.findings["pattern"]) <= usual, (lines[place], found.findings.rows(named=True))
