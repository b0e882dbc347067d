"""Delimited text of any damage: how cells are kept apart, what is no row, and what is repaired, joined or set aside.

Expected rows are written by hand beside each text.
"""

from __future__ import annotations

import random
import tempfile
from collections import Counter
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.errors import ReadingError
from eventlens.reading import line_accounts, read, read_table
from eventlens.reading.assemble import raw_tables
from eventlens.reading.formats import _bounds
from eventlens.reading.raw import OTHER_TABLE, TOO_FEW, TOO_LONG, TOO_MANY, RawTable
from eventlens.reading.tables import Names
from tests.reading.reading_logs import profile, read_text, write

NAMES = ("Time", "Tag", "State")
ROWS = [(f"2024-05-01 06:00:{second:02}.120", f"K{10 + second % 3}", str(second % 2)) for second in range(12)]
HEADER = "Time;Tag;State\n"
TEXT = HEADER + "".join(";".join(row) + "\n" for row in ROWS)


def table(folder: Path, content: str | bytes) -> RawTable:
    return raw_tables(write(folder, content))


def cells(raw: RawTable) -> list[tuple[str, ...]]:
    return [tuple((cell or "").strip() for cell in row) for row in raw.frame.iter_rows()]


def said(raw: RawTable, words: str) -> bool:
    return any(words in note for note in raw.notes)


MARKS = [";", ",", "\t", "|", "^", "~", "\x1f", "\x01", "¦", "§", "||", "::", ";;", "\t\t", "->", "#|#", "~|~", "@@@"]
MARKS += [" | ", ", ", " ; ", "  ", "     ", " \t"]


@pytest.mark.parametrize("mark", MARKS, ids=repr)
@pytest.mark.parametrize("named", [True, False], ids=["names", "no names"])
def test_any_delimiter(mark: str, named: bool, tmp_path: Path) -> None:
    raw = table(tmp_path, "".join(mark.join(row) + "\n" for row in ([NAMES, *ROWS] if named else ROWS)))
    assert cells(raw) == ROWS
    assert raw.frame.columns == (list(NAMES) if named else ["column_1", "column_2", "column_3"])


@pytest.mark.parametrize(
    "quotes", ['""', "''", "“”", "„“", "«»", "``"], ids=["double", "single", "curly", "low", "angle", "grave"]
)
@pytest.mark.parametrize("mark", [";", ",", "\t"], ids=repr)
def test_any_quotes(mark: str, quotes: str, tmp_path: Path) -> None:
    rows = [(time, f"{tag}{mark}{state}", state) for time, tag, state in ROWS]  # the delimiter inside a cell
    text = "".join(mark.join(f"{quotes[0]}{cell}{quotes[1]}" for cell in row) + "\n" for row in [NAMES, *rows])
    assert cells(table(tmp_path, text)) == rows


def test_single_quotes_that_are_apostrophes_stay(tmp_path: Path) -> None:
    rows = [(time, "driver's cab", state) for time, _, state in ROWS]
    text = "".join(";".join(row) + "\n" for row in [NAMES, *rows])
    assert cells(table(tmp_path, text)) == rows


@pytest.mark.parametrize("inner", ['10"" rope', '10\\" rope', '10" rope', 'say ""up"" twice', 'say \\"up\\", twice'])
def test_quotes_inside_quotes(inner: str, tmp_path: Path) -> None:
    text = "time,code,message\n" + "".join(f'2024-05-01 06:00:{at:02},E{at % 3},"{inner}"\n' for at in range(9))
    wanted = inner.replace('""', '"').replace('\\"', '"')
    raw = table(tmp_path, text)
    assert [row[2] for row in raw.frame.iter_rows()] == [wanted] * 9
    assert raw.rejected.is_empty()


@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_stray_quote_spoils_one_cell_only(place: int, tmp_path: Path) -> None:
    bad = list(ROWS[5])
    bad[place] = '"' + bad[place]
    rows = [*ROWS[:5], tuple(bad), *ROWS[6:]]
    raw = table(tmp_path, HEADER + "".join(";".join(row) + "\n" for row in rows))
    assert cells(raw) == rows
    assert said(raw, "Line 7 has quotes")


FIXED = """\
Date       Time          Tag       Speed State
2024-05-01 06:00:00.120  K11 main   12,5 ON
2024-05-01 06:00:00.480  K12         0,0 OFF
2024-05-01 06:00:01.000              3,5 OFF
2024-05-01 06:00:01.500  K11 main 1112,5 ON
"""


def test_columns_of_fixed_width(tmp_path: Path) -> None:
    raw = table(tmp_path, FIXED)
    assert raw.frame.columns == ["Date Time", "Tag", "Speed", "State"]
    assert cells(raw) == [
        ("2024-05-01 06:00:00.120", "K11 main", "12,5", "ON"),
        ("2024-05-01 06:00:00.480", "K12", "0,0", "OFF"),
        ("2024-05-01 06:00:01.000", "", "3,5", "OFF"),
        ("2024-05-01 06:00:01.500", "K11 main", "1112,5", "ON"),
    ]


@pytest.mark.parametrize("names", ["Date Time Tag State", "Time Tag State", "Time   Tag State"])
def test_single_blanks_between_cells(names: str, tmp_path: Path) -> None:
    text = names + "\n" + "".join(" ".join(row) + "\n" for row in ROWS)
    raw = table(tmp_path, text)
    assert [" ".join(row) for row in cells(raw)] == [" ".join(row) for row in ROWS]
    assert raw.frame.columns == names.split()


def test_commas_of_numbers_between_blanks_are_no_delimiter(tmp_path: Path) -> None:
    text = "".join(f"2024-05-01 06:00:{at:02},{at:03} K1 {at},5\n" for at in range(20))
    assert cells(table(tmp_path, text))[7] == ("2024-05-01", "06:00:07,007", "K1", "7,5")
    text = "".join(f"01 May 2024 06:00:{at:02},{at % 2}\n" for at in range(20))  # neighbour: the comma does delimit
    assert cells(table(tmp_path, text))[7] == ("01 May 2024 06:00:07", "1")


PREAMBLES = {
    "device": "Device;C-7\nExported;03.05.2024 09:00:00\nFirmware;2.1\n\n",
    "prose": "Export of the controller, all signals; made on 2024-05-03 09:00:00; by hand\n\n",
    "long": "".join(f"Setting {at};{at}\n" for at in range(40)),
    "hint": "sep=;\n",
    "legend": "Code;Text\n1;Overload\n2;Door\n3;Supply\n\n",
}


@pytest.mark.parametrize("preamble", PREAMBLES.values(), ids=PREAMBLES)
@pytest.mark.parametrize("units", ["", "[UTC];;[0/1]\n", HEADER], ids=["", "units", "names again"])
def test_lines_before_the_table(preamble: str, units: str, tmp_path: Path) -> None:
    raw = table(tmp_path, preamble + HEADER + units + TEXT.removeprefix(HEADER))
    assert (raw.frame.columns, cells(raw)) == (list(NAMES), ROWS)
    assert raw.dialect is not None
    assert raw.dialect.header_line == preamble.count("\n") + 1
    assert said(raw, "before the table")


@pytest.mark.parametrize("other", ["Tag;Unit;Factor;Offset\nK10;A;1;0\nK11;A;1;0\n", "Code;Text\n1;Door\n2;Trip\n"])
@pytest.mark.parametrize("gap", ["", "\n", "\n\n"])
def test_another_table_behind_the_log_is_set_aside(other: str, gap: str, tmp_path: Path) -> None:
    raw = table(tmp_path, TEXT + gap + other)
    assert cells(raw) == ROWS
    assert raw.rejected["reason"].to_list() == [OTHER_TABLE] * 3
    assert said(raw, f"begins in line {14 + len(gap)}")


@pytest.mark.parametrize("order", [(0, 1, 2), (1, 2, 0), (2, 1, 0)])
def test_the_header_again_in_another_order(order: tuple[int, ...], tmp_path: Path) -> None:
    tail = "".join(";".join(row[at] for at in order) + "\n" for row in [NAMES, *ROWS])
    path = write(tmp_path, TEXT + tail)
    assert read_table(path).rows() == ROWS + ROWS
    assert line_accounts(path).row(13) == (14, "header", None)


def test_a_delimiter_too_many(tmp_path: Path) -> None:
    lines = TEXT.splitlines()
    lines[4] = lines[4].replace(";", ";;", 1)
    lines[6] += ";"
    lines[8] += ";;"
    lines[10] += ";x"
    raw = table(tmp_path, "\n".join(lines) + "\n")
    assert cells(raw) == [row for at, row in enumerate(ROWS) if at != 9]
    assert raw.rejected.rows() == [(11, TOO_MANY, lines[10])]
    assert said(raw, "Lines 5, 7, 9 have an empty cell too many")


def test_a_line_with_another_delimiter(tmp_path: Path) -> None:
    lines = TEXT.splitlines()
    lines[0], lines[3], lines[4] = lines[0].replace(";", "\t"), lines[3].replace(";", ","), lines[4].replace(";", "|")
    raw = table(tmp_path, "\n".join(lines) + "\n")
    assert (raw.frame.columns, cells(raw)) == (list(NAMES), ROWS)


MESSAGES = [
    f"2024-05-01 06:00:{at:02},E{at % 3},Overload trip {'of the hoist' if at % 2 else 'again'}" for at in range(9)
]


def test_a_delimiter_inside_a_message_without_quotes(tmp_path: Path) -> None:
    lines = ["time,code,message", *MESSAGES, "2024-05-01 06:00:10,E1,Overload trip, reset by operator, twice"]
    raw = table(tmp_path, "\n".join(lines) + "\n")
    assert raw.frame["message"][-1] == "Overload trip, reset by operator, twice"
    assert said(raw, "Line 11 has delimiters inside a text")


def test_a_message_goes_on_in_the_next_line(tmp_path: Path) -> None:
    lines = ["time,code,message", *MESSAGES]
    lines[4:4] = ["reset by operator", "at the gate, after a call"]
    raw = table(tmp_path, "\n".join(lines) + "\n")
    assert raw.frame["message"][2] == "Overload trip again\nreset by operator\nat the gate, after a call"
    assert (raw.joined, raw.frame.height) == ((5, 6), 9)
    assert said(raw, "Lines 5, 6 have no stamp: joined")


def test_what_stands_between_rows_of_numbers_is_not_joined(tmp_path: Path) -> None:
    lines = TEXT.splitlines()
    lines[4:4] = ["--- page 2 ---"]
    raw = table(tmp_path, "\n".join([*lines, "end of export"]) + "\n")
    assert cells(raw) == ROWS
    assert raw.rejected.rows() == [(5, TOO_FEW, "--- page 2 ---"), (15, TOO_FEW, "end of export")]


def test_quoted_line_breaks(tmp_path: Path) -> None:
    text = 'time,code,message\n2024-05-01 06:00:00,E12,"Overload trip\n\nreset, by operator"\n'
    raw = table(tmp_path, text + '2024-05-01 06:05:00,E12,"Overload trip"\n')
    assert raw.frame["message"].to_list() == ["Overload trip\n\nreset, by operator", "Overload trip"]
    assert (raw.lines.to_list(), raw.joined) == ([2, 5], (3, 4))


@pytest.mark.parametrize("end", ["2024-05-01 06:0", "2024-05-01 06:00:12.120;K", "2"])
def test_a_cut_last_line(end: str, tmp_path: Path) -> None:
    raw = table(tmp_path, TEXT + end)
    assert cells(raw) == ROWS
    assert raw.rejected.rows() == [(14, TOO_FEW, end)]
    assert said(raw, "may be cut off")


ENDS = {
    "feeds": "\n",
    "pairs": "\r\n",
    "returns": "\r",
    "returns twice": "\r\r\n",
}


@pytest.mark.parametrize("end", ENDS.values(), ids=ENDS)
@pytest.mark.parametrize("other", ENDS.values(), ids=ENDS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"])
def test_line_ends_and_encodings(end: str, other: str, encoding: str, tmp_path: Path) -> None:
    half = len(TEXT.splitlines()) // 2
    lines = [line + (end if at < half else other) for at, line in enumerate(TEXT.splitlines())]
    raw = table(tmp_path, "".join(lines).replace("Tag", "Größe").encode(encoding))
    assert (raw.frame.columns, cells(raw)) == (["Time", "Größe", "State"], ROWS)
    assert raw.lines.to_list() == list(range(2, 14))


@pytest.mark.parametrize("count", [1, 3, 4096, 100_000])
def test_memory_that_was_never_written(count: int, tmp_path: Path) -> None:
    lines = TEXT.encode().splitlines(keepends=True)
    raw = table(tmp_path, b"".join([*lines[:5], b"\0" * count, b"\n", *lines[5:]]))
    assert cells(raw) == ROWS
    assert raw.blank == 1
    assert said(raw, f"{count} zero bytes")
    assert cells(table(tmp_path, b"".join([*lines, b"\0" * count]))) == ROWS


def test_one_column_and_an_empty_file(tmp_path: Path) -> None:
    assert read_table(write(tmp_path, "State\n1\n0\n1\n")).to_dict(as_series=False) == {"State": ["1", "0", "1"]}
    assert read_table(write(tmp_path, "")).shape == (0, 0)
    assert line_accounts(write(tmp_path, "")).is_empty()
    with pytest.raises(ReadingError, match="empty"):
        read(write(tmp_path, ""))


def test_bounds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    long = "x" * (_bounds.LONGEST_CELL + 1)
    raw = table(tmp_path, TEXT + f"2024-05-01 06:01:00;{long};1\n")
    assert cells(raw) == ROWS
    assert raw.rejected["reason"].to_list() == [TOO_LONG]
    wide = ";".join(["2024-05-01 06:00:00", *["1"] * _bounds.MOST_COLUMNS]) + "\n"
    with pytest.raises(ReadingError, match="columns"):
        table(tmp_path, wide * 3)


def test_a_delimiter_of_several_characters_stated(tmp_path: Path) -> None:
    text = "time::signal::value\n2024-05-01 06:00:00::RUN::0\n2024-05-01 06:00:01::RUN::1\n"
    assert read_text(tmp_path, text, delimiter="::").events.height == 2


def test_a_long_file_reads_like_a_short_one(tmp_path: Path) -> None:
    """Damage far behind the lines that the dialect is found from."""
    rows = [
        f"2024-05-{1 + at // 86400:02} {at // 3600 % 24:02}:{at // 60 % 60:02}:{at % 60:02};K{at % 7};{at % 2}"
        for at in range(50_000)
    ]
    damaged = list(rows)
    damaged[40_000] = damaged[40_000].replace(";", ";;", 1)
    damaged[45_000] = damaged[45_000].replace(";", "\t")
    damaged[49_000] = '"' + damaged[49_000].replace(";K", '";"K', 1).replace(";1", '";1').replace(";0", '";0')
    plain = table(tmp_path, HEADER + "\n".join(rows) + "\n")
    assert cells(table(tmp_path, HEADER + "\n".join(damaged) + "\n")) == cells(plain)


CUTS = st.tuples(
    st.integers(0, 2**20), st.sampled_from(["cut", "twice", '"', ";", "\n", "\0", "\r", ",", " ", "'", "x", "é"])
)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(CUTS, max_size=6),
    st.sampled_from([TEXT, PREAMBLES["device"] + TEXT, FIXED, "time,code,message\n" + "\n".join(MESSAGES)]),
)
def test_each_line_has_one_account_whatever_is_damaged(cuts: list[tuple[int, str]], text: str) -> None:
    for place, how in cuts:
        at = place % (len(text) + 1)
        if how == "cut":
            text = text[:at] + text[at + random.Random(place).randrange(1, 30) :]
        elif how == "twice":
            text = text[:at] + text[at : at + 40] + text[at:]
        else:
            text = text[:at] + how + text[at:]
    with tempfile.TemporaryDirectory() as folder:
        path = write(Path(folder), text)
        try:
            raw = raw_tables(path)
        except ReadingError:
            return  # said, not silent
        before = raw.first_line - 1
        other = len(raw.joined) + len(raw.headers_again)
        assert raw.frame.height + raw.rejected.height + raw.blank + other + before == raw.last_line
        for names in get_args(Names):
            accounts = line_accounts(path, names)
            kinds = Counter(accounts["kind"].to_list())
            assert accounts["line"].to_list() == list(range(1, raw.last_line + 1))
            assert kinds["row"] == read_table(path, names).height
            assert (kinds["set aside"], kinds["blank"]) == (raw.rejected.height, raw.blank)


def test_what_was_repaired_is_said_by_the_log(tmp_path: Path) -> None:
    text = "time;signal;value\n" + "".join(f"2024-05-01 06:00:0{at};RUN;{at % 2}\n" for at in range(6))
    log = read(write(tmp_path, text + "2024-05-01 06:00:08;;RUN;1\n"), profile())
    assert any("Line 8 has an empty cell too many" in note for note in log.notes)
    assert log.events.height == 7
