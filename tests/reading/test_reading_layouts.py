"""Guards the layouts: changes (also names that set), samples, words; and that Parquet reads like text."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import polars as pl
import pytest
from reading_logs import RUN, balanced, history, profile, read_text, write

from eventlens.reading import read
from eventlens.reading.profile import Source, Word

LIMIT = "hoist.raise.limit"


def values(*args: object) -> list[float | None]:
    return [value for _, _, value in history(*args)]  # type: ignore[arg-type]


def test_names_that_set_drive_one_signal(tmp_path: Path) -> None:
    rows = "1,82,4\n1,82,4\n1,81,4\n2,82,4\n"
    text = "T,Code,Par\n" + "".join(f"2024-05-13 06:00:0{at},{row[2:]}\n" for at, row in enumerate(rows.splitlines()))
    signals = {"82 4": Source(signal=RUN, sets=True), "81 4": Source(signal=RUN, sets=False)}
    log = read_text(tmp_path, text, signals, layout="changes", name=["Code", "Par"])
    assert values(log) == [1, 1, 0, 1]
    # counted by hand: on after on once; on, off and on again are three edges with the first record unknown before
    assert log.names.select("name", "rows", "edges", "repeated").rows() == [("81 4", 1, 1, 0), ("82 4", 3, 1, 1)]


def test_names_edges_and_repeats(tmp_path: Path) -> None:
    marks = (("RUN", 0), ("X", 5), ("RUN", 1), ("RUN", 1), ("X", 6), ("RUN", 0), ("RUN", 0), (" RUN ", 1))
    text = "time;signal;value\n" + "".join(f"2024-05-13 06:00:{at:02};{n};{v}\n" for at, (n, v) in enumerate(marks))
    log = read_text(tmp_path, text)
    assert log.names.rows() == [("RUN", RUN, 6, 3, 2, "profile"), ("X", None, 2, 1, 0, "unmapped")]


@pytest.mark.parametrize(
    ("source", "want"),
    [
        (Source(signal=LIMIT), [1, 0, None, 1]),
        (Source(signal=LIMIT, invert=True), [0, 1, None, 0]),
        (Source(signal=LIMIT, on="0"), [0, 1, None, 0]),
        (Source(signal=LIMIT, on="2"), [0, 0, None, 1]),
        (Source(signal=LIMIT, on="0.0", invert=False), [0, 1, None, 0]),
    ],
)
@pytest.mark.parametrize("layout", ["changes", "samples"])
def test_sense_of_a_contact(source: Source, want: list[float | None], layout: str, tmp_path: Path) -> None:
    cells = ("1", "0", "?", "2")
    if layout == "changes":
        text = "time;signal;value\n" + "".join(f"2024-05-13 06:00:0{at};S7;{c}\n" for at, c in enumerate(cells))
    else:
        text = "time;S7\n" + "".join(f"2024-05-13 06:00:0{at};{c}\n" for at, c in enumerate(cells))
    log = read_text(tmp_path, text, {"S7": source})
    assert log.layout == layout
    found = values(log, LIMIT)
    assert found == [v for at, v in enumerate(want) if layout == "changes" or at == 0 or v != want[at - 1]]


def test_names_of_signals_map_themselves_without_a_profile(tmp_path: Path) -> None:
    log = read(write(tmp_path, "time,hoist.raise.contactor,other\n2024-05-13 06:00:00,1,5\n2024-05-13 06:00:01,0,5\n"))
    assert log.names.select("name", "mapped_by").rows() == [("hoist.raise.contactor", "name"), ("other", "unmapped")]
    assert log.profile is None
    tall = read(write(tmp_path, "time,name,value\n2024-05-13 06:00:00,hoist.raise.contactor,1\n"))
    assert tall.layout == "changes"
    assert tall.names["mapped_by"].to_list() == ["name"]


def test_samples_give_an_event_where_a_value_differs(tmp_path: Path) -> None:
    cells = (("0", "1,5"), ("0", "1,5"), ("1", "1,5"), ("", "2"), ("1", "2"))
    text = "t;RUN;SPD\n" + "".join(f"2024-05-13 06:00:0{at};{a};{b}\n" for at, (a, b) in enumerate(cells))
    log = read_text(tmp_path, text)
    assert values(log) == [0, 1, None, 1]  # an empty cell is unknown
    assert values(log, "hoist.speed_m_per_min") == [1.5, 2]
    assert log.events["row"].to_list() == [2, 2, 4, 5, 5, 6]
    kept = read_text(tmp_path, text, empty="unchanged")
    assert values(kept) == [0, 1]
    assert kept.names.filter(pl.col("name") == "RUN")["rows"].to_list() == [4]  # cells that hold something


def test_after_a_hole_samples_begin_anew(tmp_path: Path) -> None:
    stamps = [*range(10), *range(40, 50)]
    log = read_text(tmp_path, "t;RUN\n" + "".join(f"2024-05-13 06:00:{at:02};1\n" for at in stamps))
    assert log.rhythm_s == 1
    assert [(segment, value) for segment, _, value in history(log)] == [(0, 1), (1, 1)]
    assert log.holes["rows"].to_list() == [[11, 12]]


@pytest.mark.parametrize(
    ("cells", "encoding"),
    [
        (("3", "32768", "0"), None),
        (("3", "-32768", "0"), None),
        (("3", "-32768", "0"), "signed"),
        (("0x0003", "0x8000", "0x0"), None),
        (("16#3", "16#8000", "16#0"), None),
        (("0003h", "8000h", "0h"), None),
        (("0003", "8000", "0000"), "hex"),
    ],
)
def test_words(cells: tuple[str, ...], encoding: str | None, tmp_path: Path) -> None:
    bits = {0: Source(signal=RUN), 1: Source(signal=LIMIT, invert=True), 15: Source(signal="rope.slack")}
    text = "time;MW20;TRIP\n" + "".join(f"2024-05-13 06:00:0{at};{cell};0\n" for at, cell in enumerate(cells))
    log = read_text(tmp_path, text, words={"MW20": Word(bits, encoding)})  # type: ignore[arg-type]
    assert log.layout == "words"
    assert values(log) == [1, 0]
    assert values(log, LIMIT) == [0, 1]
    assert values(log, "rope.slack") == [0, 1, 0]
    assert log.names["name"].to_list() == ["MW20.0", "MW20.1", "MW20.15", "TRIP"]


def test_plain_hex_is_told_by_its_letters(tmp_path: Path) -> None:
    text = "time;MW20\n2024-05-13 06:00:00;000A\n2024-05-13 06:00:01;0010\n2024-05-13 06:00:02;zz\n"
    bits = {1: Source(signal=RUN), 4: Source(signal=LIMIT)}
    log = read_text(tmp_path, text, words={"MW20": Word(bits)})
    assert values(log) == [1, 0, None]
    assert values(log, LIMIT) == [0, 1, None]
    assert "1 words of 'MW20' are not understood" in " ".join(log.notes)


def test_parquet_reads_like_text(tmp_path: Path) -> None:
    frame = pl.DataFrame(
        {
            "Time": [datetime(2024, 5, 13, 6, 0, at) for at in range(4)],
            "Tag": ["RUN", "SPD", "RUN", None],
            "State": [1.0, 2.5, 0.0, 1.0],
        }
    )
    frame.write_parquet(tmp_path / "log.parquet")
    log = read(tmp_path / "log.parquet", profile())
    balanced(log)
    assert log.events["row"].to_list() == [1, 2, 3]
    assert values(log) == [1, 0]
    assert values(log, "hoist.speed_m_per_min") == [2.5]
    frame.write_csv(tmp_path / "log.csv")
    assert read(tmp_path / "log.csv", profile()).events.drop("row").equals(log.events.drop("row"))


def test_parquet_of_flags_and_zoned_instants(tmp_path: Path) -> None:
    time = pl.Series("t", [datetime(2024, 5, 13, 6), datetime(2024, 5, 13, 7)]).dt.replace_time_zone("Europe/Berlin")
    pl.DataFrame([time, pl.Series("RUN", [True, False])]).write_parquet(tmp_path / "log.parquet")
    log = read(tmp_path / "log.parquet", profile())
    assert values(log) == [1, 0]
    assert log.start.hour == 4
    assert log.notes == ()
