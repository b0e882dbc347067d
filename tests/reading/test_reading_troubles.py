"""Guards against the troubles that real dumps bring, each with a neighbour in another notation, order or unit.

The convention of the small inputs: a signal is off before its first row. Expected numbers are counted by hand.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from reading_logs import RUN, balanced, history, on_seconds, profile, read_text, starts, write

from eventlens.reading import read
from eventlens.reading.profile import Source


@dataclass(frozen=True)
class Trouble:
    """One input with the right answer."""

    text: str | bytes
    starts: int
    on_s: float
    keys: dict[str, Any] = field(default_factory=dict)
    rejected: int = 0
    said: str | None = None


H = "time;signal;value\n"

TROUBLES = {
    "day first, low days first": Trouble(
        H + "05.03.2024 08:00:00;RUN;1\n05.03.2024 08:00:30;RUN;0\n13.03.2024 08:00:00;RUN;1\n"
        "13.03.2024 08:00:30;RUN;0\n",
        2,
        60,
    ),
    "month first, low days first": Trouble(
        "value,signal,time\n1,RUN,03/05/2024 08:00:00\n0,RUN,03/05/2024 08:00:30\n1,RUN,03/13/2024 08:00:00\n"
        "0,RUN,03/13/2024 08:00:30\n",
        2,
        60,
    ),
    "only ambiguous dates": Trouble(
        H + "05/03/2024 08:00:00;RUN;1\n06/03/2024 08:00:00;RUN;0\n", 1, 86400, said="month/day/year would also fit"
    ),
    "only ambiguous dates, month first": Trouble(
        H + "05/03/2024 08:00:00;RUN;1\n05/04/2024 08:00:00;RUN;0\n", 1, 86400, said="day.month.year would also fit"
    ),
    "twelve-hour clock": Trouble(
        "time,signal,value\n05/13/2024 12:05:00 AM,RUN,1\n05/13/2024 12:59:59 AM,RUN,0\n05/13/2024 12:00:00 PM,RUN,1\n"
        "05/13/2024 01:00:00 PM,RUN,0\n",
        2,
        6899,
    ),
    "twelve-hour clock, other spellings": Trouble(
        "time\tsignal\tvalue\n13.05.2024 12:05:00a.m.\tRUN\t1\n13.05.2024 12:59:59 am\tRUN\t0\n"
        "13.05.2024 12:00:00PM\tRUN\t1\n"
        "13.05.2024 1:00:00 p.m.\tRUN\t0\n",
        2,
        6899,
    ),
    "fraction missing when it is zero": Trouble(
        H + "2024-05-01 06:00:00.250;RUN;1\n2024-05-01 06:00:01;RUN;0\n2024-05-01 06:00:01.5;RUN;1\n"
        "2024-05-01 06:00:02.050;RUN;0\n",
        2,
        1.3,
    ),
    "fraction missing when it is zero, comma and T": Trouble(
        H + "2024-05-01T06:00:00;RUN;1\n2024-05-01T06:00:00,75;RUN;0\n2024-05-01T06:00:02,000;RUN;1\n"
        "2024-05-01T06:00:02,55;RUN;0\n",
        2,
        1.3,
    ),
    "comma before the fraction, comma between the columns": Trouble(
        "time,signal,value\n2024-05-01 06:00:00,250,RUN,1\n2024-05-01 06:00:01,000,RUN,0\n", 1, 0.75
    ),
    "the same, to the tenth, dotted date": Trouble(
        "time,signal,value\n13.05.2024 06:00:00,2,RUN,1\n13.05.2024 06:00:00,9,RUN,0\n", 1, 0.7
    ),
    "date and time in two columns": Trouble(
        "Date;Time;Tag;State\n01.05.2024;23:59:58;RUN;ON\n02.05.2024; 0:00:03;RUN;OFF\n", 1, 5
    ),
    "two columns, other order, comma": Trouble(
        "Tag,State,Time,Date\nRUN,on,23:59:58.5,2024-05-01\nRUN,off,0:00:03,2024-05-02\n", 1, 4.5
    ),
    "milliseconds in a column of their own": Trouble(
        "Time;ms;Tag;State\n2024-05-01 06:00:00;5;RUN;1\n2024-05-01 06:00:00;50;RUN;0\n",
        1,
        0.045,
        {"time": ["Time", "ms"], "name": ["Tag"], "value": "State"},
    ),
    "autumn, local time": Trouble(
        H + "2024-10-27 02:30:00;RUN;0\n2024-10-27 02:59:50;RUN;1\n2024-10-27 02:00:10;RUN;0\n",
        1,
        20,
        {"timezone": "Europe/Berlin"},
    ),
    "autumn, other zone, newest first": Trouble(
        H
        + "2024-11-03 01:00:10;RUN;0\n2024-11-03 01:59:50;RUN;1\n2024-11-03 01:30:00;RUN;0\n"
        + "".join(f"2024-11-03 00:{at:02};FB;0\n" for at in range(40, 20, -1)),
        1,
        20,
        {"timezone": "America/New_York"},
    ),
    "spring, local time": Trouble(
        H + "2024-03-31 01:59:50;RUN;1\n2024-03-31 03:00:10;RUN;0\n", 1, 20, {"timezone": "Europe/Berlin"}
    ),
    "spring, no zone": Trouble(H + "2024-03-31 01:59:50;RUN;1\n2024-03-31 03:00:10;RUN;0\n", 1, 3620, said="no zone"),
    "an hour that the zone leaves out": Trouble(
        H + "2024-03-31 01:59:50;RUN;1\n2024-03-31 02:30:00;FB;1\n2024-03-31 03:00:10;RUN;0\n",
        1,
        20,
        {"timezone": "Europe/Berlin"},
        rejected=1,
    ),
    "mixed offsets": Trouble(
        "time,signal,value\n2024-03-31T01:59:50+01:00,RUN,1\n2024-03-31T03:00:10+02:00,RUN,0\n"
        "2024-03-31T01:00:20Z,RUN,1\n"
        "2024-03-31T03:00:30+02:00,RUN,0\n",
        2,
        30,
    ),
    "mixed offsets, short forms, zone of the profile": Trouble(
        H + "2024-11-03 01:59:50-0400;RUN;1\n2024-11-03 01:00:10-05;RUN;0\n2024-11-03 06:00:20 UTC;RUN;1\n"
        "2024-11-03 01:00:30-05:00;RUN;0\n",
        2,
        30,
        {"timezone": "Asia/Tokyo"},
    ),
    "seconds and milliseconds": Trouble(
        "ts,signal,value\n1714543200,RUN,1\n1714543205000,RUN,0\n", 1, 5, said="mix units"
    ),
    "microseconds": Trouble(H + "1714543200000000;RUN;1\n1714543205000000;RUN;0\n", 1, 5),
    "spreadsheet days, decimal comma": Trouble(H + "45413,25;RUN;1\n45413,2503472222;RUN;0\n", 1, 30),
    "spreadsheet days, decimal point": Trouble(
        "time\tsignal\tvalue\n45413.25\tRUN\t1\n45413.2503472222\tRUN\t0\n", 1, 30
    ),
    "names of months": Trouble(H + "31-May-2024 23:59:50;RUN;1\n01-Jun-2024 00:00:10;RUN;0\n", 1, 20),
    "names of months, German": Trouble(H + "31-Mai-2024 23:59:50;RUN;1\n01-Juni-2024 00:00:10;RUN;0\n", 1, 20),
    "names of months, French, day padded with a blank": Trouble(
        H + "31 juil. 2024 23:59:50;RUN;1\n 1 août 2024 00:00:10;RUN;0\n", 1, 20
    ),
    "unknown name of a month": Trouble(
        H + "31-May-2024 23:59:50;RUN;1\n01-Jum-2024 00:00:00;RUN;0\n01-Jun-2024 00:00:10;RUN;0\n", 1, 0, rejected=1
    ),  # the row with the lost stamp may have ended the run at once
    "month first, day padded or not": Trouble(H + "May  9 2024 06:00:00;RUN;1\nMay 9 2024 06:00:05;RUN;0\n", 1, 5),
    "utf-16 with a mark": Trouble(
        "time;signal;value\r\n2024-05-01 06:00:00;RUN;1\r\n2024-05-01 06:00:05;RUN;0\r\n".encode("utf-16"), 1, 5
    ),
    "utf-16 without a mark": Trouble(
        "time;signal;value\r\n2024-05-01 06:00:00;RUN;1\r\n2024-05-01 06:00:05;RUN;0\r\n".encode("utf-16-le"), 1, 5
    ),
    "utf-16, other byte order": Trouble(
        "time;signal;value\r\n2024-05-01 06:00:00;RUN;1\r\n2024-05-01 06:00:05;RUN;0\r\n".encode("utf-16-be"), 1, 5
    ),
    "utf-8 with a mark": Trouble(
        "time;signal;value\r\n2024-05-01 06:00:00;RUN;1\r\n2024-05-01 06:00:05;RUN;0\r\n".encode("utf-8-sig"), 1, 5
    ),
    "preamble with delimiters and dates": Trouble(
        "Device;C-7\nExported;03.05.2024 09:00:00\nFirmware;2.1\n\nTime;Signal;Value\n03.05.2024 08:00:00;RUN;1\n"
        "03.05.2024 08:00:20;RUN;0\n",
        1,
        20,
    ),
    "preamble and a row of units": Trouble(
        "# exported by hand\n# 3 rows\nTime,Signal,Value\n[s],[-],[-]\n2024-05-03 08:00:00,RUN,1\n"
        "2024-05-03 08:00:20,RUN,0\n",
        1,
        20,
    ),
    "header again, columns in another order": Trouble(
        "time,signal,value\n2024-05-01 06:00:00,RUN,1\nsignal,value,time\nRUN,0,2024-05-01 06:00:05\n",
        1,
        5,
        said="header stands again in line 3",
    ),
    "header again, the same": Trouble(
        H + "01.05.2024 06:00:00;RUN;1\ntime;signal;value\n01.05.2024 06:00:05;RUN;0\n", 1, 5, said="line 3"
    ),
    "delimiter at the end of each line": Trouble(H + "2024-05-01 06:00:00;RUN;1;\n2024-05-01 06:00:05;RUN;0;\n", 1, 5),
    "unnamed counter before the first column": Trouble(
        H + "1;2024-05-01 06:00:00;RUN;1\n2;2024-05-01 06:00:05;RUN;0\n", 1, 5
    ),
    "line break inside quotes": Trouble(
        'time,signal,value,message\n2024-05-01 06:00:00,RUN,1,"Overload trip\nreset, by operator"\n'
        '2024-05-01 06:05:00,RUN,0,"Overload trip"\n',
        1,
        300,
    ),
    "last line without an end": Trouble(
        H + "2024-05-01 06:00:00;RUN;1\n2024-05-01 06:00:05;RUN;0\n2024-05-01 06:00:09;SPD;14", 1, 5, said="no line end"
    ),
    "last line cut off": Trouble(
        H + "2024-05-01 06:00:00;RUN;1\n2024-05-01 06:00:05;RUN;0\n2024-05-01 06:0", 1, 5, rejected=1
    ),
    "ring buffer": Trouble(
        "slot;time;signal;value\n0;2024-05-01 06:10:00;RUN;1\n1;2024-05-01 06:10:20;RUN;0\n"
        "2;2024-05-01 06:00:00;RUN;1\n"
        "3;2024-05-01 06:00:30;RUN;0\n4;2024-05-01 06:05:00;RUN;1\n5;2024-05-01 06:05:10;RUN;0\n",
        3,
        60,
        said="ring buffer",
    ),
    "ring buffer, twelve-hour clock, no slot": Trouble(
        "value,signal,time\n1,RUN,5/13/2024 6:10:00 PM\n0,RUN,5/13/2024 6:10:20 PM\n1,RUN,5/13/2024 11:59:50 AM\n"
        "0,RUN,5/13/2024 12:00:30 PM\n",
        2,
        60,
        said="ring buffer",
    ),
    "newest first": Trouble(
        H + "2024-05-01 06:00:30;RUN;0\n2024-05-01 06:00:30;TRIP;1\n2024-05-01 06:00:00;RUN;1\n",
        1,
        30,
        said="newest first",
    ),
    "spelling of on and off": Trouble(
        H + "2024-05-01 06:00:00;RUN;Ein\n2024-05-01 06:00:10;RUN;Aus\n2024-05-01 06:00:20;RUN;TRUE\n"
        "2024-05-01 06:00:30;RUN;0\n2024-05-01 06:00:40;RUN;-1\n2024-05-01 06:00:50;RUN;FALSCH\n",
        3,
        30,
    ),
    "spelling of on and off, other tongues": Trouble(
        "Tag|Valeur|Horodatage\nRUN|oui|13/05/2024 06:00:00\nRUN|NON|13/05/2024 06:00:10\n"
        "RUN| Vrai |13/05/2024 06:00:20\n"
        "RUN|faux|13/05/2024 06:00:30\nRUN|Closed|13/05/2024 06:00:40\nRUN|open|13/05/2024 06:00:50\n",
        3,
        30,
    ),
    "rows counted instead of edges": Trouble(
        H + "".join(f"2024-05-01 06:00:0{at};RUN;{value}\n" for at, value in enumerate((0, 1, 1, 1, 0))), 1, 3
    ),
    "the last value holds until the next record": Trouble(
        H + "2024-05-01 07:10:00;RUN;1\n2024-05-01 07:10:06;RUN;1\n2024-05-01 07:10:20;RUN;0\n", 1, 20
    ),
    "a run across midnight": Trouble(
        H + "2024-05-01 23:50:00;RUN;0\n2024-05-01 23:50:10;RUN;1\n2024-05-02 00:20:10;RUN;0\n", 1, 1800
    ),
}


@pytest.mark.parametrize("name", TROUBLES)
def test_trouble(name: str, tmp_path: Path) -> None:
    case = TROUBLES[name]
    log = read_text(tmp_path, case.text, **case.keys)
    assert starts(log) == case.starts
    assert on_seconds(log) == pytest.approx(case.on_s, abs=1e-9)
    assert log.rejected.height == case.rejected, log.rejected
    if case.said is not None:
        assert case.said in " ".join(log.notes)


def test_a_plain_log_makes_no_notes(tmp_path: Path) -> None:
    log = read_text(tmp_path, H + "2024-05-13T06:00:00Z;RUN;1\n2024-05-13T06:00:05Z;RUN;0\n")
    assert log.notes == ()


@pytest.mark.parametrize("first", ["27-03-24", "27.03.24"])
def test_two_digit_year_and_the_default_date(first: str, tmp_path: Path) -> None:
    mark = first[2]
    lost = f"01{mark}01{mark}00 00:00:03;RUN;0\n01{mark}01{mark}00 00:00:09;RUN;1\n"
    rows = f"{first} 10:00:00;RUN;1\n{lost}{first} 10:04:00;RUN;0\n"
    log = read_text(tmp_path, H + rows)
    assert [event["time"].year for event in log.events.rows(named=True)] == [2024, 2000, 2000, 2024]
    assert log.clock_steps["seconds"].to_list() == [
        -764848797.0,
        764849031.0,
    ]  # 8852 days and 35997 s; 8852 days and 36231 s
    assert log.segments.height == 3
    assert [value for _, _, value in history(log)] == [1, 0, 1, 0]  # the order of the record is kept


def test_clock_set_back_in_the_middle(tmp_path: Path) -> None:
    rows = (
        "101,2024-06-03 10:00:00,RUN,1\n102,2024-06-03 10:00:40,RUN,0\n103,2024-06-03 09:58:00,RUN,1\n"
        "104,2024-06-03 09:58:25,RUN,0\n"
    )
    log = read_text(tmp_path, "seq,time,signal,value\n" + rows)
    assert starts(log) == 2
    assert on_seconds(log) == 65
    assert log.clock_steps["seconds"].to_list() == [-160.0]
    assert log.clock_steps["rows"].to_list() == [[3, 4]]
    assert log.events["segment"].to_list() == [0, 0, 1, 1]
    assert log.reordered == 0


def test_clock_set_back_without_a_counter_later_than_the_first_stamp(tmp_path: Path) -> None:
    rows = "".join(
        f"03/06/2024 {clock};RUN;{at % 2}\n"
        for at, clock in enumerate(("10:00:00", "11:00:40", "10:58:00", "10:59:00"))
    )
    log = read_text(tmp_path, H + "13/05/2024 08:00:00;FB;1\n" + rows)
    assert log.clock_steps["seconds"].to_list() == [-160.0]
    assert log.segments.height == 2


def test_an_impossible_date_is_kept_between_its_neighbours(tmp_path: Path) -> None:
    rows = "03.05.2024 07:00:00;RUN;1\n45.165.2165 63:10:85;RUN;0\n03.05.2024 07:10:00;RUN;1\n"
    log = read_text(tmp_path, H + rows)
    assert (starts(log), on_seconds(log), log.rejected.height) == (2, 0, 0)
    assert any("line 3" in note for note in log.notes)


def test_cp1252_names(tmp_path: Path) -> None:
    text = "Zeit;Störung;Motor läuft;Temp °C\r\n01.05.2024 06:00:00;0;1;20,5\r\n01.05.2024 06:00:01;0;0;20,5\r\n"
    signals = {
        "Störung": Source(signal="overload.fault"),
        "Motor läuft": Source(signal=RUN),
        "Temp °C": Source(signal="hoist.motor.temperature_c"),
    }
    log = read_text(tmp_path, text.encode("cp1252"), signals)
    assert log.layout == "samples"
    assert log.names["name"].to_list() == ["Motor läuft", "Störung", "Temp °C"]
    assert [value for _, _, value in history(log, "hoist.motor.temperature_c")] == [20.5]
    assert "cp1252" in " ".join(log.notes)
    assert "cp1252" not in " ".join(read_text(tmp_path, text.encode(), signals).notes)  # the same in UTF-8


@pytest.mark.parametrize(
    ("cells", "numbers"),
    [
        (("1.250,5", "0,0", "1.250"), [1250.5, 0.0, 1250.0]),  # one decimal comma makes every point a thousands mark
        (("1,250.5", "0.0", "12"), [1250.5, 0.0, 12.0]),
        (("-3,5", "3,25", ""), [-3.5, 3.25, None]),
        (("1.25", "2.5e1", "-4"), [1.25, 25.0, -4.0]),
    ],
)
def test_decimal_mark_and_thousands(cells: tuple[str, ...], numbers: list[float | None], tmp_path: Path) -> None:
    rows = "".join(f"13.05.2024 06:00:0{at};SPD;{cell}\n" for at, cell in enumerate(cells))
    log = read_text(tmp_path, H + rows)
    assert [value for _, _, value in history(log, "hoist.speed_m_per_min")] == numbers


@pytest.mark.parametrize(("cell", "said"), [("1.250", True), ("1.25", False), ("0.250", False)])
def test_a_point_before_three_digits_is_said(cell: str, said: bool, tmp_path: Path) -> None:
    log = read_text(tmp_path, H + f"13.05.2024 06:00:00;SPD;{cell}\n")
    assert ("decimal point" in " ".join(log.notes)) is said


def test_newest_first_turns_equal_stamps_round_too(tmp_path: Path) -> None:
    rows = "2024-05-01 06:00:30;RUN;0\n2024-05-01 06:00:30;TRIP;1\n2024-05-01 06:00:00;RUN;1\n"
    log = read_text(tmp_path, H + rows)
    assert log.events["row"].to_list() == [4, 3, 2]


@pytest.mark.parametrize("names", [("log1.csv", "log2.csv", "log10.csv"), ("c.csv", "a.csv", "b.csv")])
def test_files_are_ordered_by_content(names: tuple[str, ...], tmp_path: Path) -> None:
    rows = ("06:00:00;RUN;0", "06:59:50;RUN;1", "07:00:10;RUN;0")
    paths = [write(tmp_path, H + "2024-05-01 " + row + "\n", name) for row, name in zip(rows, names, strict=True)]
    for given in (paths, paths[::-1], sorted(paths)):
        log = read(given, profile())
        balanced(log)
        assert starts(log, before=None) == 1
        assert on_seconds(log) == 20
        assert [file.name for file in log.files] == list(names)
        assert log.events["row"].to_list() == [2, 3, 4]


def test_unknown_words_are_listed_and_the_state_is_unknown(tmp_path: Path) -> None:
    rows = "2024-05-13 06:00:00;RUN;1\n2024-05-13 06:00:10;RUN;läuft?\n2024-05-13 06:00:20;RUN;0\n"
    log = read_text(tmp_path, H + rows)
    assert log.rejected.rows() == [(3, "value not understood", "2024-05-13 06:00:10;RUN;läuft?")]
    assert [value for _, _, value in history(log)] == [1, None, 0]
    assert on_seconds(log) == 10


def test_an_inverted_contact(tmp_path: Path) -> None:
    rows = H + "2024-05-13 06:00:00;B3;0\n2024-05-13 06:00:10;B3;1\n"
    log = read_text(tmp_path, rows, {"B3": Source(signal="hoist.brake.released", invert=True)})
    assert [value for _, _, value in history(log, "hoist.brake.released")] == [1, 0]


def test_a_change_of_speed_keeps_its_number(tmp_path: Path) -> None:
    rows = "".join(f"2024-05-13 06:00:{at:02};SPD;{speed}\n" for at, speed in ((0, 0), (5, 1), (10, 2), (20, 0)))
    log = read_text(tmp_path, H + rows)
    assert [value for _, _, value in history(log, "hoist.speed_m_per_min")] == [0, 1, 2, 0]


def test_already_on_at_the_beginning_is_no_start(tmp_path: Path) -> None:
    rows = "2024-05-13 06:00:00;RUN;1\n2024-05-13 06:00:10;RUN;0\n2024-05-13 06:00:20;RUN;1\n"
    assert starts(read_text(tmp_path, H + rows), before=None) == 1


@pytest.mark.parametrize("period", [10, 60])
def test_the_logger_was_off(period: int, tmp_path: Path) -> None:
    beats = [f"2024-05-13 06:{at * period // 60:02}:{at * period % 60:02};HB;1" for at in range(12)]
    last = 11 * period
    rows = [*beats, f"2024-05-13 06:{(last - 8) // 60:02}:{(last - 8) % 60:02};RUN;1", "2024-05-13 14:00:00;BOOT;1"]
    log = read_text(tmp_path, H + "\n".join([*sorted(rows), "2024-05-13 14:00:00;RUN;0"]) + "\n")
    assert log.rhythm_s == period
    assert log.holes.height == 1
    assert on_seconds(log) == 8
    assert log.observed_s == last
    assert starts(log) == 1


def test_late_arrivals_are_sorted_in_and_ties_keep_the_order_of_the_file(tmp_path: Path) -> None:
    rows = (
        "10:00:00.300;2024-05-13 10:00:00.100;TRIP;1\n10:00:00.300;2024-05-13 10:00:00.100;RUN;0\n"
        "10:00:03.000;2024-05-13 10:00:01.500;FB;1\n10:00:02.000;2024-05-13 10:00:01.000;RUN;1\n"
    )
    log = read_text(tmp_path, "arrived;source_time;signal;value\n" + rows, time="source_time")
    assert log.events["row"].to_list() == [2, 3, 5, 4]
    assert log.reordered == 1
    assert log.clock_steps.is_empty()
