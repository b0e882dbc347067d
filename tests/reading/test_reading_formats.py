"""Guards containers: dialects found without any setting, physical lines, rows set aside, and inputs that are no log."""

from __future__ import annotations

import hashlib
import random
from pathlib import Path

import polars as pl
import pytest
from reading_logs import profile, read_text, write

from eventlens.errors import ReadingError
from eventlens.reading import inspect, read, read_table, table_rows
from eventlens.reading.formats import delimited, formats, read_raw
from eventlens.reading.layouts import layouts
from eventlens.reading.profile import Profile
from eventlens.reading.raw import RawTable

ROWS = [
    ("2024-05-13 06:00:00.000", "RUN", "1"),
    ("2024-05-13 06:00:00.500", "RUN", "0"),
    ("2024-05-13 06:00:01.000", "FB", "1"),
]
NAMES = ("time", "signal", "value")


@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|", "^", "~"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", [True, False])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be"])
def test_dialects(delimiter: str, end: str, last: bool, encoding: str, tmp_path: Path) -> None:
    text = end.join(delimiter.join(row) for row in (NAMES, *ROWS)) + (end if last else "")
    table = read_table(write(tmp_path, text.encode(encoding)))
    assert table.columns == list(NAMES)
    assert table.rows() == ROWS
    assert set(table.dtypes) == {pl.String}


def test_no_header(tmp_path: Path) -> None:
    path = write(tmp_path, "\n".join(";".join(row) for row in ROWS) + "\n")
    assert read_table(path, names="found").columns == ["column_1", "column_2", "column_3"]
    assert read_table(path).columns == list(ROWS[0])
    log = read(path, profile())
    assert log.events["row"].to_list() == [1, 2, 3]
    assert log.files[0].first_line == 1


def test_a_stated_header_row_and_none(tmp_path: Path) -> None:
    text = "one;two;three\na;b;c\n" + "\n".join(";".join(row) for row in ROWS) + "\n"
    assert read_text(tmp_path, text, header=2, time="a", name="b", value="c").events.height == 3
    log = read_text(tmp_path, text, header=False, time="column_1", name="column_2", value="column_3")
    assert log.rejected["row"].to_list() == [1, 2]
    with pytest.raises(
        ReadingError, match=r"wanted the column names in row 9, got no text there; correct \[log\] header"
    ):
        read_text(tmp_path, text, header=9)


def test_repeated_and_missing_names(tmp_path: Path) -> None:
    path = write(tmp_path, "time;x;x;\n2024-05-13 06:00:00;1;2;3\n2024-05-13 06:00:01;1;2;3\n")
    assert read_table(path, names="found").columns == ["time", "x", "x_2", "column_4"]
    assert read_table(path).columns == ["time", "x", "x ", ""]
    assert table_rows(path)[0] == table_rows(path, names="found")[0] == ["time", "x", "x", None]


def test_lines_are_physical_and_accounts_balance(tmp_path: Path) -> None:
    text = (
        "Exported by hand\n\ntime;signal;value\n2024-05-13 06:00:00;RUN;1\n\n2024-05-13 06:00:01;RUN\n"
        '2024-05-13 06:00:02;RUN;0;surplus\n2024-05-13 06:00:03;"RU\nN";1\n2024-05-13 06:00:04;RUN;0\n  \n'
        '2024-05-13 06:00:05;"open;1\n;;\n2024-05-13 06:00:06;RUN;"1"\n2024-05-13 06:00:07;5" pipe;1\n'
        '"2024-05-13 06:00:08;RUN\n'
    )
    log = read_text(tmp_path, text)
    # counted on the text above
    assert log.rejected.select("row", "reason").rows() == [
        (6, "fewer columns than the table has"),
        (7, "more columns than the table has"),
        (16, "quote is not closed"),
    ]
    assert log.events.drop_nulls("value")["row"].to_list() == [4, 10, 14]
    assert log.events.filter(pl.col("value").is_null())["row"].to_list() == [6, 7, 16]  # they name RUN: unknown there
    assert log.names["name"].to_list() == ['"open', '5" pipe', "RU\nN", "RUN"]
    file = log.files[0]
    assert (file.rows, file.taken, file.rejected, file.blank, file.first_line) == (12, 6, 3, 3, 4)


def test_blanks_after_the_delimiter(tmp_path: Path) -> None:
    text = 'time, signal, value, note\n2024-05-13 06:00:00, RUN, 1, "on, at last"\n2024-05-13 06:00:01, "RUN", 0, ""\n'
    log = read_text(tmp_path, text)
    assert log.rejected.is_empty()
    assert log.names["name"].to_list() == ["RUN"]
    assert log.events["value"].to_list() == [1, 0]


def test_a_flood_of_bad_lines(tmp_path: Path) -> None:
    text = "time;signal;value\n2024-05-13 06:00:00;RUN;1\n" + "rubbish\n" * 20_000 + "2024-05-13 06:00:01;RUN;0\n"
    log = read_text(tmp_path, text)
    assert log.rejected.height == 20_000
    assert log.events["row"].to_list() == [2, 20_003]


def test_a_text_that_is_set_aside_is_cut_to_200_characters(tmp_path: Path) -> None:
    text = "time;signal;value\n2024-05-13 06:00:00;RUN;1\n" + "x" * 500 + "\n"
    assert log_text(tmp_path, text) == ["x" * 200]


def log_text(folder: Path, text: str) -> list[str]:
    return read_text(folder, text).rejected["text"].to_list()


def test_damaged_utf8_stays_utf8(tmp_path: Path) -> None:
    good = "".join(f"2024-05-13 06:00:{at:02};Störung;1\n" for at in range(30)).encode()
    log = read(write(tmp_path, b"time;signal;value\n2024-05-13 06:00:00;RUN;1\n" + good + b"\xff\xfe\n"), profile())
    assert "Störung" in log.names["name"].to_list()
    assert "damaged characters" in " ".join(log.notes)


def test_a_wrong_encoding_of_the_profile(tmp_path: Path) -> None:
    text = "time;signal;value\n2024-05-13 06:00:00;Störung;1\n".encode("cp1252")
    with pytest.raises(ReadingError, match=r"log\.csv, line 2: wanted text in utf-8, got the byte 0xf6"):
        read(write(tmp_path, text), profile(encoding="utf-8"))
    with pytest.raises(ReadingError, match="wanted a known encoding, got 'utf-9'"):
        read(write(tmp_path, text), profile(encoding="utf-9"))


def test_every_format_knows_its_own_and_refuses_the_others(tmp_path: Path) -> None:
    text = write(tmp_path, "time;signal\n2024-05-13 06:00:00;RUN\n", "a.csv").read_bytes()
    pl.DataFrame({"a": [1]}).write_parquet(tmp_path / "a.parquet")
    samples = {"delimited text": text, "Parquet": (tmp_path / "a.parquet").read_bytes()}
    rubbish = random.Random(5).randbytes(4096)
    for format_ in formats():  # all the others: test_containers.py
        if format_.NAME not in samples:
            continue
        assert [name for name, head in samples.items() if format_.sniff(tmp_path, head)] == [format_.NAME]
        assert not format_.sniff(tmp_path, rubbish)
    assert set(layouts()) >= {"changes", "samples", "words"}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "wanted a log, got an empty file; export the dump again"),
        (random.Random(3).randbytes(5000), "a binary file of another kind; export the dump as text"),
        (b"time;signal;value\n", "wanted at least one row of data, got only a header"),
        (b"PAR1 and nothing else", "wanted a whole Parquet file"),
        (b"a;b;c\nx;y;1\nz;y;2\n", "wanted a column of time stamps, got columns 'a', 'b', 'c' with 'x y 1'"),
        (
            b"time;signal;value\n2024-05-13 06:00:00;K1;1\n",
            "got the names 'K1'; write a profile that maps them in [signals]",
        ),
    ],
)
def test_what_is_no_log(content: bytes, said: str, tmp_path: Path) -> None:
    path = write(tmp_path, content, "dump.log")
    with pytest.raises(ReadingError) as caught:
        read(path)
    assert said in str(caught.value)
    assert str(path) in str(caught.value)


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(ReadingError, match=r"nowhere\.csv: wanted a log file, got no such file; check the path"):
        read(tmp_path / "nowhere.csv")


def test_only_twenty_names_are_listed(tmp_path: Path) -> None:
    rows = "".join(f"2024-05-13 06:00:{at:02};N{at:02};1\n" for at in range(25))
    with pytest.raises(ReadingError, match=r"'N19' and 5 more; write a profile"):
        read(write(tmp_path, "time;signal;value\n" + rows))


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"time": "Time"}, "the column 'Time' ([log] time of the profile), got columns 'time', 'signal', 'value'"),
        ({"name": "signals"}, "did you mean 'signal'?"),
        ({"value": "valu"}, "did you mean 'value'?"),
        ({"heartbeat": "HB"}, "the heartbeat 'HB' of the profile, got 'RUN'; correct [log] heartbeat"),
        (
            {"time": "signal"},
            "log.csv, line 2: wanted time stamps in column 'signal', got 'RUN'; name the right column",
        ),
        ({"time_format": "%d.%m.%Y"}, "time stamps as %d.%m.%Y in column 'time', got '2024-05-13 06:00:00'"),
    ],
)
def test_a_profile_that_does_not_fit(keys: dict[str, str], said: str, tmp_path: Path) -> None:
    with pytest.raises(ReadingError) as caught:
        read_text(tmp_path, "time;signal;value\n2024-05-13 06:00:00;RUN;1\n", **keys)
    assert said in str(caught.value)


def test_a_raw_table_counts_all_rows(tmp_path: Path) -> None:
    raw = read_raw(write(tmp_path, "a;b\n1;2024-05-13\n\n2;2024-05-14\n3\n"), Profile())
    assert (raw.rows, raw.frame.height, raw.rejected.height, raw.blank) == (4, 2, 1, 1)
    assert raw.lines.to_list() == [2, 4]


def test_inspection_needs_no_setting(tmp_path: Path) -> None:
    text = "Zeit;Name;Wert\r\n" + "".join(f"13.05.2024 06:00:{at:02},250;K{at % 2};{at},5\r\n" for at in range(60))
    found = inspect(write(tmp_path, text.encode("cp1252")))
    assert (found.container, found.encoding, found.delimiter, found.decimal) == ("delimited text", "utf-8", ";", ",")
    assert (found.layout, found.time_columns, found.header_line) == ("changes", ("Zeit",), 1)
    assert (found.step_s, found.rhythm_s, found.rows) == (1.0, 2.0, 60)
    assert [(seen.name, seen.rows, seen.values[0]) for seen in found.names] == [("K0", 30, "0,5"), ("K1", 30, "1,5")]
    said = found.to_text()
    assert "delimiter:    ;" in said
    assert "K1" in said


def test_inspection_of_samples_and_of_a_tab_separated_file(tmp_path: Path) -> None:
    found = inspect(write(tmp_path, "date\ttime\tK1\tK2\n2024-05-13\t06:00\t1\t\n2024-05-13\t06:01\t0\t1\n"))
    assert found.layout == "samples"
    assert found.time_columns == ("date", "time")
    assert [(seen.name, seen.rows) for seen in found.names] == [("K1", 2), ("K2", 1)]
    assert "delimiter:    tab" in found.to_text()


def test_a_file_that_is_written_to_while_it_is_read_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Time;Tag;State\n2026-03-02 06:00:00;K11;1\n2026-03-02 06:00:01;K11;0\n")
    before = path.read_bytes()
    assert not read_raw(path, Profile()).notes
    read = delimited.read

    def read_and_grow(path: Path, profile: Profile, like: RawTable | None) -> RawTable:
        found = read(path, profile, like)
        with path.open("a") as file:
            file.write("2026-03-02 06:00:02;K11;1\n")
        return found

    monkeypatch.setattr(delimited, "read", read_and_grow)
    raw = read_raw(path, Profile())
    assert raw.sha256 == hashlib.sha256(before).hexdigest()
    assert raw.notes == (
        f"The file went from {len(before)} to {len(before) + 26} bytes while it was read: its hash is of the first "
        f"{len(before)}, and rows behind them may be cut off or missing; read it again.",
    )
