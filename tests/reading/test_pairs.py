"""Guards lines of pairs: their forms, what becomes a column, what is set aside, and what stays a table."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading_logs import RUN, balanced, history, profile, starts, write

from eventlens.reading import inspect, read
from eventlens.reading.formats import pairs, read_raw
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable


def raw(folder: Path, content: str, name: str = "log") -> RawTable:
    found = read_raw(write(folder, content, name), Profile())
    assert found.rows == found.frame.height + found.rejected.height + found.blank
    return found


@pytest.mark.parametrize(
    "line",
    [
        "2026-03-02 06:00:0{at}.250 {name}={value}",
        "[2026-03-02 06:00:0{at}.250] INFO io: {name} = {value}",
        "2026-03-02T06:00:0{at}.250Z {name}={value}",
        "02.03.2026 06:00:0{at},250 {name}={value} by hand",
        "<02.03.2026 06:00:0{at}.250> {name}={value}",
        "02-Mar-2026 06:00:0{at}.250: {name}={value}",
        "Mar  2 2026 06:00:0{at}.250 {name}={value}",
        "02-Mar-2026 06:00:0{at}.250 AM {name}={value}",
        "1772431200.250 {name}={value}",  # 2026-03-02 06:00:00 UTC, by hand: 20514 days of 86400 s and 21600 s
        "ts=2026-03-02T06:00:0{at}.250Z tag={name} state={value}",
        'time="2026-03-02 06:00:0{at}.250", tag={name}, state="{value}"',
    ],
)
def test_forms(line: str, tmp_path: Path) -> None:
    rows = [("RUN", 1), ("FB", 1), ("RUN", 0), ("FB", 0)]
    text = "".join(line.format(at=at, name=name, value=value) + "\n" for at, (name, value) in enumerate(rows))
    assert raw(tmp_path, text).container == pairs.NAME
    log = read(tmp_path / "log", profile())
    balanced(log)
    assert (log.layout, log.events.height) == ("changes", 4)
    base = 20514 * 86_400_000_000 + 6 * 3_600_000_000 + 250_000
    step = 0 if "{at}" not in line else 1_000_000
    assert history(log) == [(0, base, 1.0), (0, base + 2 * step, 0.0)]


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-02 06:00:00;RUN=1;FB=0\n2026-03-02 06:00:01;RUN=0;FB=0\n",
        "2026-03-02 06:00:00\tRUN=1\n2026-03-02 06:00:01\tRUN=0\n",
        "2026-03-02 06:00:00|io|RUN=1\n2026-03-02 06:00:01|io|RUN=0\n",
        "time,tag,state\n2026-03-02 06:00:00,RUN,1\n2026-03-02 06:00:01,RUN,0\n",
        "2026-03-02 06:00:00 RUN 1\n2026-03-02 06:00:01 RUN 0\n",
        "tag=RUN state=1\ntag=RUN state=0\n",  # nothing tells the time
    ],
)
def test_what_stays_a_table(text: str, tmp_path: Path) -> None:
    path = write(tmp_path, text)
    assert not pairs.sniff(path, path.read_bytes())


@pytest.mark.parametrize(("odd", "accepted"), [(2, True), (3, False)])
def test_four_of_five_lines_must_be_records(odd: int, accepted: bool, tmp_path: Path) -> None:
    text = "2026-03-02 06:00:00 RUN=1\n" * (10 - odd) + "and so on\n" * odd
    path = write(tmp_path, text)
    assert pairs.sniff(path, path.read_bytes()) == accepted


def test_a_stated_delimiter_asks_for_a_table(tmp_path: Path) -> None:
    path = write(tmp_path, "2026-03-02 06:00:00 RUN=1\n2026-03-02 06:00:01 RUN=0\n")
    assert read_raw(path, profile(delimiter="=")).container == "delimited text"


def test_all_pairs_of_every_line_become_columns(tmp_path: Path) -> None:
    text = "".join(f"2026-03-02 06:00:0{at} RUN={at % 2} FB={at // 2 % 2}\n" for at in range(8))
    found = raw(tmp_path, text)
    assert found.frame.columns == ["time", "RUN", "FB"]
    log = read(tmp_path / "log", profile())
    balanced(log)
    assert (log.layout, starts(log)) == ("samples", 4)


def test_what_is_no_record_is_set_aside_and_what_goes_on_belongs_to_the_line_before(tmp_path: Path) -> None:
    text = (
        "2026-03-02 06:00:00 RUN=1\n  more of it\n\nRUN=0 without a stamp\n2026-03-02 06:00:01 RUN=0\n"
        "2026-03-02 06:00:02 FB=1\n2026-03-02 06:00:03 FB=0\n2026-03-02 06:00:04 started anew\n"
        "2026-03-02 06:00:05 RUN=1\n2026-03-02 06:00:06 RUN=0\n"
    )
    found = raw(tmp_path, text)
    assert found.lines.to_list() == [1, 5, 6, 7, 8, 9, 10]
    assert (found.rejected.rows(), found.blank) == ([(4, pairs.NO_RECORD, "RUN=0 without a stamp")], 1)
    assert found.frame["name"].to_list() == ["RUN", "RUN", "FB", "FB", "started anew", "RUN", "RUN"]


def test_an_empty_value_is_none_and_takes_nothing_from_the_pair_behind_it(tmp_path: Path) -> None:
    found = raw(tmp_path, "2026-03-02 06:00:00 RUN= FB=1\n2026-03-02 06:00:01 RUN=1 FB=\n")
    assert found.frame.select("RUN", "FB").rows() == [("", "1"), ("1", "")]


def test_parts_of_one_log_and_the_whole(tmp_path: Path) -> None:
    first = write(
        tmp_path, "".join(f"2026-03-02 06:00:0{at} {'RUN' if at % 3 else 'FB'}={at % 2}\n" for at in range(9))
    )
    second = write(tmp_path, "2026-03-02 06:00:09 RUN=1\n2026-03-02 06:00:10 RUN=0\n", "second.csv")
    whole = write(tmp_path, first.read_text() + second.read_text(), "whole.csv")
    parts, one = read([first, second], profile()), read(whole, profile())
    balanced(parts)
    assert history(parts) == history(one)


values = st.lists(st.tuples(st.sampled_from(["RUN", "FB"]), st.integers(0, 1)), min_size=3, max_size=30)


@settings(max_examples=40, deadline=None)
@given(rows=values, words=st.sampled_from(["", "io: ", "WARN plc 3: "]))
def test_it_is_the_log_that_a_table_would_be(
    rows: list[tuple[str, int]], words: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("pairs")
    stamped = [(f"2026-03-02 06:00:{at:02}", name, value) for at, (name, value) in enumerate(rows)]
    lines = "".join(f"{stamp} {words}{name}={value}\n" for stamp, name, value in stamped)
    table = "time;tag;state\n" + "".join(f"{stamp};{name};{value}\n" for stamp, name, value in stamped)
    said, plain = read(write(folder, lines, "a.log"), profile()), read(write(folder, table, "b.csv"), profile())
    assert said.events.select("time", "signal", "value").equals(plain.events.select("time", "signal", "value"))
    assert history(said, RUN) == history(plain, RUN)


def test_some_of_many_keys_in_each_line_are_rows_and_no_gap_is_an_unknown_state(tmp_path: Path) -> None:
    text = (
        "2026-03-02 06:00:00 RUN=0\n2026-03-02 06:00:01 RUN=1 FB=0\n2026-03-02 06:00:02 FB=1\n"
        "2026-03-02 06:00:03 TRIP=0\n2026-03-02 06:00:04 RUN=0 FB=0 TRIP=1\n2026-03-02 06:00:05 restarted\n"
    )
    found = raw(tmp_path, text)
    assert found.lines.to_list() == [1, 2, 2, 3, 4, 5, 5, 5, 6]
    log = read(tmp_path / "log", profile())
    balanced(log)
    base = 20514 * 86_400_000_000 + 6 * 3_600_000_000
    assert history(log) == [(0, base, 0.0), (0, base + 1_000_000, 1.0), (0, base + 4_000_000, 0.0)]


def test_a_part_whose_lines_hold_all_keys_is_read_like_the_others(tmp_path: Path) -> None:
    text = "".join(f"2026-03-02 06:00:0{at} {'RUN' if at % 2 else 'FB'}={at // 2 % 2}\n" for at in range(8))
    more = "2026-03-02 06:00:08 RUN=1 FB=1\n2026-03-02 06:00:09 RUN=0 FB=0\n"
    first, second = write(tmp_path, text, "1.log"), write(tmp_path, more, "2.log")
    whole = write(tmp_path, text + more, "whole.log")
    assert "RUN" in read_raw(second, Profile()).frame.columns
    for paths in ([first, second], [whole]):
        log = read(paths, profile())
        balanced(log)
        assert [value for _, _, value in history(log)] == [0.0, 1.0, 0.0, 1.0, 1.0, 0.0]


@pytest.mark.parametrize(("words", "said"), [(("", ""), False), (("plc1 ", "plc1 "), False), (("ok ", "late "), True)])
def test_words_beside_pairs_of_every_line_are_no_names(words: tuple[str, str], said: bool, tmp_path: Path) -> None:
    """Nobody has stated which names there are."""
    text = "".join(f"2026-03-02 06:00:{at:02} {words[at % 2]}Q4.1={at % 2} Q4.2={at // 2 % 2}\n" for at in range(20))
    found = inspect(write(tmp_path, text))
    assert found.layout == "samples"
    assert {seen.name for seen in found.names} == {"Q4.1", "Q4.2"}
    assert any("Words beside the pairs" in note for note in found.notes) == said


@pytest.mark.parametrize(("spoken", "accepted"), [(4, True), (5, False)])
def test_prose_in_which_pairs_are_an_accident_is_left_to_others(spoken: int, accepted: bool, tmp_path: Path) -> None:
    text = "2026-03-02 06:00:00 RUN=1\n" * (20 - spoken) + "2026-03-02 06:00:00 Motor stopped\n" * spoken
    path = write(tmp_path, text)
    assert pairs.sniff(path, path.read_bytes()) == accepted
