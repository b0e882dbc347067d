"""Guards against the troubles that stamps of real dumps bring, each with neighbours in other notations, orders, units.

The convention of the small inputs: a signal is off before its first row. Expected numbers are counted by hand.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from reading_logs import balanced, history, on_seconds, profile, read_text, starts, write

from eventlens.errors import ProfileError, ReadingError
from eventlens.reading import inspect, load_profile, read

H = "time;signal;value\n"


@dataclass(frozen=True)
class Trouble:
    """One input with the right answer."""

    text: str
    starts: int
    on_s: float
    keys: dict[str, Any] = field(default_factory=dict)
    said: str | None = None
    steps: int = 0
    rejected: int = 0


TROUBLES = {
    "T07 seconds by their name are no days, however many": Trouble(
        "t [s];signal;value\n20000.5;RUN;1\n20030.5;RUN;0\n86400.5;RUN;1\n86430.5;RUN;0\n",
        2,
        60,
        {"start": "2024-03-05T08:00:00", "time": "t [s]", "name": "signal", "value": "value"},
    ),
    "T07 ticks of a stated start are no days, whatever their name": Trouble(
        "t;signal;value\n20000.5;RUN;1\n50000.5;RUN;0\n",
        1,
        30,
        {"start": "2024-03-05T08:00:00", "time": "t", "name": "signal", "value": "value"},
    ),
    "T07 days without either are days": Trouble("Time;signal;value\n45356.25;RUN;1\n45356.5;RUN;0\n", 1, 21600),
    "T01 day first by one late row": Trouble(
        H + "05.03.24 08:00:00;RUN;1\n05.03.24 08:00:30;RUN;0\n13.03.24 08:00:00;RUN;1\n13.03.24 08:00:30;RUN;0\n",
        2,
        60,
    ),
    "T01 month first by one late row, hyphens": Trouble(
        "time,signal,value\n03-05-2024 08:00,RUN,1\n03-05-2024 08:01,RUN,0\n03-13-2024 08:00,RUN,1\n"
        "03-13-2024 08:01,RUN,0\n",
        2,
        120,
    ),
    "T01 in two columns": Trouble(
        "Date;Time;Tag;State\n05/03/2024;08:00:00;RUN;1\n06/03/2024;08:00:00;RUN;0\n13/03/2024;08:00:00;RUN;0\n",
        1,
        86400,
    ),
    "T02 which of two is said": Trouble(
        H + "05.03.2024 08:00:00;RUN;1\n06.03.2024 08:00:00;RUN;0\n", 1, 86400, said="month/day/year would also fit"
    ),
    "T02 two-digit years": Trouble(H + "24-03-05 08:00:00;RUN;1\n24-03-06 08:00:00;RUN;0\n", 1, 86400, said="also fit"),
    "T02 without a year": Trouble(
        H + "05/03 08:00:00;RUN;1\n06/03 08:00:00;RUN;0\n", 1, 86400, {"year": 2024}, "month/day would also fit"
    ),
    "T03 marker before the time": Trouble(
        "time,signal,value\n2024/5/13 上午 12:05:00,RUN,1\n2024/5/13 上午 12:59:59,RUN,0\n"
        "2024/5/13 下午 12:00:00,RUN,1\n2024/5/13 下午 1:00:00,RUN,0\n",
        2,
        6899,
    ),
    "T03 marker in a column of its own": Trouble(
        "Date;Time;Half;Tag;State\n05/13/2024;12:05:00;AM;RUN;1\n05/13/2024;12:59:59;AM;RUN;0\n"
        "05/13/2024;12:00:00;PM;RUN;1\n05/13/2024;01:00:00;PM;RUN;0\n",
        2,
        6899,
    ),
    "T03 short words, dots and blanks": Trouble(
        H + "13.05.2024 12:05:00 a. m.;RUN;1\n13.05.2024 12:59:59 a.m.;RUN;0\n13.05.2024 12:00:00 p.m;RUN;1\n"
        "13.05.2024 1:00:00 p;RUN;0\n",
        2,
        6899,
    ),
    "T04 factory date in the middle": Trouble(
        H + "27-03-24 10:00:00;RUN;1\n01-01-00 00:00:03;RUN;0\n01-01-00 00:00:09;RUN;1\n27-03-24 10:04:00;RUN;0\n",
        2,
        0,
        said="2 rows bear the date that a clock starts with",
        steps=2,
    ),
    "T04 factory date at the end": Trouble(
        H + "2024-03-27 10:00:00;RUN;1\n2024-03-27 10:00:10;RUN;0\n1990-01-01 00:00:03;RUN;1\n"
        "1990-01-01 00:00:09;RUN;0\n",
        2,
        16,
        said="1990-01-01 (lines 4, 5)",
        steps=1,
    ),
    "T04 factory date at the beginning, run goes on across": Trouble(
        H
        + "01.01.1984 00:00:03;RUN;0\n01.01.1984 00:00:09;RUN;1\n27.03.2024 10:00:00;RUN;0\n27.03.2024 10:00:10;FB;0\n",
        1,
        0,
        said="1984-01-01 (lines 2, 3)",
        steps=1,
    ),
    "T04 epoch zero": Trouble("ts,signal,value\n1714543200,RUN,1\n1714543210,RUN,0\n", 1, 10),
    "T05 colon, dropped when zero": Trouble(
        H + "13.05.2024 06:00:00:250;RUN;1\n13.05.2024 06:00:01;RUN;0\n13.05.2024 06:00:01:500;RUN;1\n"
        "13.05.2024 06:00:02:050;RUN;0\n",
        2,
        1.3,
    ),
    "T05 with a zone": Trouble(
        H + "2024-05-01T06:00:00.25Z;RUN;1\n2024-05-01T06:00:01Z;RUN;0\n2024-05-01T06:00:01.5Z;RUN;1\n"
        "2024-05-01T06:00:02.05Z;RUN;0\n",
        2,
        1.3,
    ),
    "T05 twelve hours": Trouble(
        H + "5/1/2024 6:00:00.250 PM;RUN;1\n5/1/2024 6:00:01 PM;RUN;0\n5/1/2024 6:00:01.5 PM;RUN;1\n"
        "5/1/2024 6:00:02.050 PM;RUN;0\n",
        2,
        1.3,
    ),
    "T07 milliseconds unpadded in a third column": Trouble(
        "Date;Time;ms;Tag;State\n1.5.2024;23:59:58;5;RUN;ON\n2.5.2024; 0:00:03;50;RUN;OFF\n", 1, 5.045, said="'ms'"
    ),
    "T07 time before date": Trouble(
        "Time,Date,Tag,State\n23:59:58,01/05/2024,RUN,ON\n0:00:03,02/05/2024,RUN,OFF\n", 1, 5
    ),
    "T07 a column for each part": Trouble(
        "Year;Month;Day;Hour;Minute;Second;ms;Tag;State\n2024;5;1;23;59;58;5;RUN;1\n2024;5;2;0;0;3;50;RUN;0\n",
        1,
        5.045,
        said="parts in the columns",
    ),
    "T07 digits only": Trouble(
        "Date;Time;Tag;State\n20240501;235958;RUN;1\n20240502;3;RUN;0\n20240502;120;RUN;0\n", 1, 5
    ),
    "T07 literals": Trouble(
        "d;t;signal;value\nD#2024-05-01;TOD#23:59:58;RUN;1\nD#2024-5-2;TOD#0:0:3.5;RUN;0\n", 1, 5.5
    ),
    "T08 zone, file order": Trouble(
        H + "2024-10-27 02:59:50;RUN;1\n2024-10-27 02:00:10;RUN;0\n2024-10-27 03:00:00;FB;0\n",
        1,
        20,
        {"timezone": "Europe/Berlin"},
    ),
    "T08 abbreviations": Trouble(H + "2024-10-27 02:59:50 CEST;RUN;1\n2024-10-27 02:00:10 CET;RUN;0\n", 1, 20),
    "T08 no zone": Trouble(
        H + "2024-10-27 02:59:40;RUN;0\n2024-10-27 02:59:50;RUN;1\n2024-10-27 02:00:10;RUN;0\n",
        1,
        0,
        said="clocks go back in many zones, the stamps step back by up to an hour (line 4)",
        steps=1,
    ),
    "T08 no zone, two rows": Trouble(
        H + "2024-10-27 02:59:50;RUN;1\n2024-10-27 02:00:10;RUN;0\n", 1, 0, said="step back by up to an hour", steps=1
    ),
    "T08 no zone, North America": Trouble(
        H + "2024-11-03 01:59:40;RUN;0\n2024-11-03 01:59:50;RUN;1\n2024-11-03 01:00:10;RUN;0\n"
        "2024-11-03 05:00:00;RUN;0\n",
        1,
        0,
        said="On 2024-11-03",
        steps=1,
    ),
    "T08 summer-time bit without a zone": Trouble(
        "t;signal;value\n70 E6 3B 82 FB 0A 18;RUN;1\n10 27 00 02 FB 0A 18;RUN;0\n", 1, 11.008, said="summer-time bit"
    ),
    "T09 zone": Trouble(
        H + "31.03.2024 01:59:50;RUN;1\n31.03.2024 03:00:10;RUN;0\n", 1, 20, {"timezone": "Europe/Berlin"}
    ),
    "T09 no zone": Trouble(
        H + "2024-03-31 01:59:50;RUN;1\n2024-03-31 03:00:10;RUN;0\n",
        1,
        3620,
        said="On 2024-03-31 the clocks go forward",
    ),
    "T09 no zone, North America": Trouble(
        H + "2024-03-10 01:59:50;RUN;1\n2024-03-10 03:00:10;RUN;0\n",
        1,
        3620,
        said="On 2024-03-10 the clocks go forward",
    ),
    "T10 offsets in the file, zone in the profile": Trouble(
        "time,signal,value\n2024-03-31T01:59:50+0100,RUN,1\n2024-03-31T03:00:10+0200,RUN,0\n"
        "2024-03-31T01:00:20Z,RUN,1\n2024-03-31T03:00:30+02,RUN,0\n",
        2,
        30,
        {"timezone": "Asia/Tokyo"},
    ),
    "T12 2^32 ms": Trouble("tick_ms,signal,value\n4294966296,RUN,1\n704,RUN,0\n", 1, 1.704, said="2^32"),
    "T12 signed": Trouble("tick_ms,signal,value\n2147483400,RUN,1\n-2147483400,RUN,0\n", 1, 0.496, said="2^32"),
    "T12 2^31 us": Trouble("tick_us;signal;value\n2147483000;RUN;1\n352;RUN;0\n", 1, 0.001, said="2^31"),
    "T12 2^16 of 10 ms": Trouble(
        "ticks_10ms;signal;value\n30000;RUN;0\n65500;RUN;1\n64;RUN;0\n", 1, 1.0, said="every 655.36 s"
    ),
    "T12 restart": Trouble(
        "tick_ms,signal,value\n912345,RUN,1\n1500,RUN,0\n", 1, 0, said="starts anew once (line 3)", steps=1
    ),
    "T12 restart after a wrap": Trouble(
        "tick_ms,signal,value\n4294966296,RUN,1\n704,RUN,0\n900704,RUN,1\n20,RUN,0\n1020,RUN,1\n2020,RUN,0\n",
        3,
        2.704,
        said="starts anew once (line 5)",
        steps=1,
    ),
    "T12 newest first": Trouble("tick_ms;signal;value\n3000;RUN;0\n2000;RUN;1\n1000;RUN;0\n", 1, 1),
    "T12 unit of the profile": Trouble(
        "n;signal;value\n100;RUN;1\n250;RUN;0\n", 1, 15, {"time": ["n"], "time_format": "ticks_100ms"}
    ),
    "T12 literals": Trouble("t;signal;value\nT#24d20h31m23s600ms;RUN;1\nT#-24d20h31m23s600ms;RUN;0\n", 1, 0.096),
    "T12 seconds with decimals": Trouble(
        "time [s];signal;value\n0.000;RUN;0\n0.250;RUN;1\n0.750;RUN;0\n", 1, 0.5, said="The instants are not known"
    ),
    "T13 mixed units": Trouble("ts,signal,value\n1714543200000,RUN,1\n1714543205,RUN,0\n", 1, 5, said="mix units"),
    "T13 other epoch, asked": Trouble(
        "ts,signal,value\n767858400,RUN,1\n767858405,RUN,0\n", 1, 5, said="counted from 2000-01-01 (2024-05-01)"
    ),
    "T13 other epoch, stated": Trouble(
        "ts,signal,value\n767858400,RUN,1\n767858405000,RUN,0\n", 1, 5, {"epoch": 2000}, "mix units"
    ),
    "T13 tenths of microseconds": Trouble(
        H + "133590384000000000;RUN;1\n133590384050000000;RUN;0\n", 1, 5, said="epoch"
    ),
    "T14 1904": Trouble(H + "43951,25;RUN;1\n43951,2503472222;RUN;0\n", 1, 30, {"epoch": 1904}),
    "T14 base is said": Trouble(H + "43951.25;RUN;1\n43951.2503472222;RUN;0\n", 1, 30, said="from 1904"),
    "T14 one of them on a whole day": Trouble(H + "45413;RUN;1\n45413.0003472222;RUN;0\n", 1, 30),
    "T15 padded and not": Trouble(
        H + "May  9 06:00:00;RUN;1\nMay 9 06:00:05;RUN;0\nMay 19 06:00:00;RUN;0\n", 1, 5, {"year": 2024}
    ),
    "T15 torn by blanks": Trouble("May  9 06:00:00 c1 RUN 1\nMay 9 06:00:05 c1 RUN 0\n", 1, 5, {"year": 2024}),
    "T15 torn by blanks, year last": Trouble(
        "Wed May  1 06:00:00 2024 RUN 1\nWed May 1 06:00:05 2024 RUN 0\nFri May 10 06:00:05 2024 RUN 0\n", 1, 5
    ),
    "T15 New Year without a year": Trouble(
        H + "Dec 31 23:59:55;RUN;1\nJan  1 00:00:05;RUN;0\n", 1, 10, {"year": 2023}, "New Year passes once"
    ),
    "T15 New Year, newest first, numbers": Trouble(
        H + "01.01. 00:00:05;RUN;0\n31.12. 23:59:55;RUN;1\n31.12. 23:59:50;RUN;0\n", 1, 10, {"year": 2024}
    ),
    "T16 Polish": Trouble(H + "31 maja 2024 23:59:50;RUN;1\n1 czerwca 2024 00:00:10;RUN;0\n", 1, 20),
    "T16 Portuguese": Trouble(H + "31 de maio de 2024 23:59:50;RUN;1\n1 de jun. de 2024 00:00:10;RUN;0\n", 1, 20),
    "T16 unknown word": Trouble(
        H + "31-Mai-2024 23:59:50;RUN;1\n01-Jum-2024 00:00:00;RUN;0\n01-Juni-2024 00:00:10;RUN;0\n", 1, 0, rejected=1
    ),  # the row with the lost stamp may have ended the run at once
    "T17 three impossible dates": Trouble(
        H + "03.05.2024 07:00:00;RUN;1\n00.00.2000 00:00:00;RUN;0\n03.05.2024 07:10:00;RUN;1\n"
        "03.05.2024 07:10:10;RUN;0\n",
        2,
        10,
        said="(line 3)",
    ),
    "T17 hexadecimal, ISO": Trouble(
        H + "2024-05-03 07:00:00;RUN;1\nFFFF-FF-FF FF:FF:FF;RUN;0\n2024-05-03 07:10:00;RUN;1\n"
        "2024-05-03 07:10:10;RUN;0\n",
        2,
        10,
        said="(line 3)",
    ),
    "T17 count of zero": Trouble(
        "ts;signal;value\n1714543200;RUN;1\n0;RUN;0\n1714543800;RUN;1\n1714543810;RUN;0\n", 2, 10, said="(line 3)"
    ),
    "T17 other signal in between": Trouble(
        H + "03.05.2024 07:00:00;RUN;1\n45.165.2165 63:10:85;FB;1\n03.05.2024 07:10:00;RUN;0\n", 1, 600, said="(line 3)"
    ),
    "T18 BCD": Trouble("raw_time;signal;value\n24 12 31 23 59 58 97 53;RUN;1\n25 01 01 00 00 00 47 54;RUN;0\n", 1, 1.5),
    "T18 hexadecimal marks": Trouble(
        "raw,signal,value\n16#24_12_31_23_59_58_97_53,RUN,1\n16#25_01_01_00_00_00_47_54,RUN,0\n", 1, 1.5
    ),
    "T18 one impossible": Trouble(
        "raw;signal;value\n24 12 31 23 59 58 97 53;RUN;1\n24 1F 31 23 59 59 97 53;RUN;0\n"
        "25 01 01 00 00 00 47 54;RUN;1\n",
        2,
        0,
        said="(line 3)",
    ),
    "CP56Time2a, invalid bit": Trouble(
        "t;signal;value\nE8 03 1E 06 61 05 18;RUN;1\nD0 07 9E 06 61 05 18;RUN;0\nB8 0B 1E 06 61 05 18;RUN;1\n",
        2,
        0,
        said="(line 3)",
    ),
    "date and time literals": Trouble(H + "DT#2024-05-01-06:00:00;RUN;1\nDT#2024-5-1-6:0:5;RUN;0\n", 1, 5),
    "time of day": Trouble(H + "06:00:00;RUN;1\n06:00:10;RUN;0\n", 1, 10, said="have no date"),
    "time of day past midnight": Trouble(
        H + "23:59:55.5;RUN;1\n0:00:05;RUN;0\n", 1, 9.5, {"date": "2024-05-01"}, "Midnight is taken to have passed once"
    ),
    "time of day, newest first": Trouble(H + "00:00:05;RUN;0\n23:59:55;RUN;1\n23:59:45;RUN;0\n", 1, 10),
    "time of day, twelve hours": Trouble(H + "11:59:55 PM;RUN;1\n12:00:05 AM;RUN;0\n", 1, 10),
    "time of day set back": Trouble(
        H + "10:00:00;RUN;1\n10:00:40;RUN;0\n09:58:00;RUN;1\n09:58:25;RUN;0\n10:01:00;RUN;0\n", 2, 65, steps=1
    ),
    "marks of quality": Trouble(
        H + "2024-05-01 06:00:00.250 *;RUN;1\n2024-05-01 06:00:01;RUN;0\n", 1, 0.75, said="'*' on 1"
    ),
    "leap second": Trouble(H + "2016-12-31T23:59:60Z;RUN;1\n2017-01-01T00:00:05Z;RUN;0\n", 1, 5),
}


@pytest.mark.parametrize("name", TROUBLES)
def test_trouble(name: str, tmp_path: Path) -> None:
    trouble = TROUBLES[name]
    log = read_text(tmp_path, trouble.text, **trouble.keys)
    assert (starts(log), on_seconds(log)) == (trouble.starts, pytest.approx(trouble.on_s, abs=1e-6)), log.notes
    assert log.rejected.height == trouble.rejected
    assert log.clock_steps.height == trouble.steps
    if trouble.said:
        assert any(trouble.said in note for note in log.notes), log.notes


@pytest.mark.parametrize("name", TROUBLES)
def test_inspection_says_the_reading_and_its_rows(name: str, tmp_path: Path) -> None:
    trouble = TROUBLES[name]
    found = inspect(write(tmp_path, trouble.text), profile(**trouble.keys))
    assert found.time_readings
    assert max(rows for _, rows in found.time_readings) <= found.rows
    reading, rows = found.time_readings[0]
    assert f"{reading}: {rows} rows" in found.to_text()


def first_instant(folder: Path, text: str, name: str = "log.csv", **keys: object) -> str:
    path = write(folder, text, name)
    os.utime(path, (datetime(2024, 6, 1, 12, tzinfo=UTC).timestamp(),) * 2)
    log = read(path, profile(**keys))
    balanced(log)
    return log.start.strftime("%Y-%m-%d %H:%M:%S")


@pytest.mark.parametrize(
    ("text", "name", "keys", "want"),
    [
        ("May  9 06:00:00;RUN;1\n", "log.csv", {}, "2024-05-09 06:00:00"),
        ("Jun  9 06:00:00;RUN;1\n", "log.csv", {}, "2023-06-09 06:00:00"),  # June 2024 is still to come
        ("Dec 31 06:00:00;RUN;1\nJan 2 06:00:00;RUN;0\n", "log.csv", {}, "2023-12-31 06:00:00"),
        ("Feb 29 06:00:00;RUN;1\n", "log.csv", {}, "2024-02-29 06:00:00"),
        ("May  9 06:00:00;RUN;1\n", "log_2022-05-09.csv", {}, "2022-05-09 06:00:00"),
        ("May  9 06:00:00;RUN;1\n", "log_2022-05-09.csv", {"year": 2021}, "2021-05-09 06:00:00"),
        ("06:00:00;RUN;1\n", "log.csv", {}, "2024-06-01 06:00:00"),
        ("23:00:00;RUN;1\n01:00:00;RUN;0\n", "log.csv", {}, "2024-05-31 23:00:00"),
        ("06:00:00;RUN;1\n", "K7 20240503.csv", {}, "2024-05-03 06:00:00"),
        ("06:00:00;RUN;1\n", "K7 20240503.csv", {"date": "2024-04-30"}, "2024-04-30 06:00:00"),
        ("05/03/2024 06:00:00;RUN;1\n", "K7 2024-05-03.csv", {}, "2024-05-03 06:00:00"),
        ("05/03/2024 06:00:00;RUN;1\n", "K7 2024-03-05.csv", {}, "2024-03-05 06:00:00"),
        ("07/03/2024 06:00:00;RUN;1\n", "log.csv", {}, "2024-03-07 06:00:00"),
        ("03/07/2024 06:00:00;RUN;1\n", "log.csv", {}, "2024-03-07 06:00:00"),  # July 2024 is still to come
        ("3797388000;RUN;1\n", "log.csv", {}, "2024-05-01 06:00:00"),  # seconds since 1904
        (
            "1000;RUN;1\n2000;RUN;0\n",
            "log.csv",
            {"time_format": "ticks_ms", "start": "2024-05-01 06:00"},
            "2024-05-01 06:00:00",
        ),
        (
            "1000;RUN;1\n2000;RUN;0\n",
            "log.csv",
            {"time_format": "ticks_ms", "start": "2024-05-01 06:00", "timezone": "Europe/Berlin"},
            "2024-05-01 04:00:00",
        ),
    ],
)
def test_what_is_known_beside_the_stamps(
    text: str, name: str, keys: dict[str, object], want: str, tmp_path: Path
) -> None:
    assert first_instant(tmp_path, H + text, name, **keys) == want


def test_one_file_decides_the_order_of_the_other(tmp_path: Path) -> None:
    one = write(tmp_path, H + "05/03/2024 08:00:00;RUN;1\n05/03/2024 08:00:10;RUN;0\n", "a.csv")
    two = write(tmp_path, H + "13/03/2024 08:00:00;RUN;1\n13/03/2024 08:00:10;RUN;0\n", "b.csv")
    log = read([one, two], profile())
    assert [str(at.date()) for at in log.events["time"]] == ["2024-03-05"] * 2 + ["2024-03-13"] * 2
    assert not any("also fit" in note for note in log.notes)


def test_files_with_their_date_in_the_name(tmp_path: Path) -> None:
    rows = "23:59:55;RUN;1\n00:00:05;RUN;0\n"
    paths = [write(tmp_path, H + rows, f"log_{day}.csv") for day in ("2024-05-03", "2024-05-01")]
    log = read(paths, profile())
    found = [at.strftime("%d %H:%M:%S") for at in log.events["time"]]
    assert found == ["01 23:59:55", "02 00:00:05", "03 23:59:55", "04 00:00:05"]
    assert on_seconds(log) == 20


def test_ticks_over_several_files(tmp_path: Path) -> None:
    one = write(tmp_path, "tick_ms;signal;value\n4294966000;RUN;0\n4294966296;RUN;1\n", "log1.csv")
    two = write(tmp_path, "tick_ms;signal;value\n704;RUN;0\n", "log2.csv")
    log = read([one, two], profile())
    assert (starts(log), on_seconds(log)) == (1, 1.704)


def test_an_undated_record_stands_between_its_neighbours(tmp_path: Path) -> None:
    rows = "03.05.2024 07:00:00;RUN;1\n45.165.2165 63:10:85;RUN;0\n03.05.2024 07:10:00;RUN;1\n"
    log = read_text(tmp_path, H + rows)
    begin = history(log)[0][1]
    assert [((time - begin) / 1e6, value) for _, time, value in history(log)] == [
        (0, 1.0),
        (0, None),  # from the row before on: unknown
        (600, 0.0),  # at the latest when the next row comes
        (600, 1.0),
    ]
    assert log.events["row"].to_list() == [2, 3, 3, 4]
    assert log.rejected.is_empty()


@pytest.mark.parametrize(
    ("rows", "values"),
    [
        ("99.99.2024 10:00:00;RUN;1\n03.05.2024 07:00:00;RUN;0\n", [1.0, 0.0]),  # the first: before the next row
        ("03.05.2024 07:00:00;RUN;1\n99.99.2024 10:00:00;RUN;0\n", [1.0, None]),  # the last: some time after
        ("03.05.2024 07:00:00;RUN;1\n99.99.2024 10:00:00;RUN;0\n03.05.2024 07:00:00;RUN;1\n", [1.0, 0.0, 1.0]),
        (
            "03.05.2024 07:00:00;RUN;1\n99.99.2024 10:00:00;RUN;0\n99.99.2024 11:00:00;RUN;1\n"
            "03.05.2024 07:00:09;FB;1\n",
            [1.0, None, None, 0.0, 1.0],
        ),
    ],
)
def test_undated_records_at_the_ends_and_in_a_row(rows: str, values: list[float | None], tmp_path: Path) -> None:
    assert [value for _, _, value in history(read_text(tmp_path, H + rows))] == values


def test_undated_samples(tmp_path: Path) -> None:
    text = "time;RUN;FB\n03.05.2024 07:00:00;1;0\n00.00.2000 00:00:00;0;0\n03.05.2024 07:10:00;1;0\n"
    log = read_text(tmp_path, text, layout="samples")
    assert (starts(log), on_seconds(log)) == (2, 0)
    assert [value for _, _, value in history(log, "hoist.brake.released")] == [0.0]  # the same before and after


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("epoch", '"yesterday"', "a year like 2000 or a date like '1980-01-06'"),
        ("year", "24", "greater than or equal to 1970"),
        ("date", '"2024-13-01"', "date"),
        ("start", '"noon"', "date"),
    ],
)
def test_a_wrong_key_names_its_line(key: str, value: str, said: str, tmp_path: Path) -> None:
    path = write(tmp_path, f"[log]\n{key} = {value}\n", "profile.toml")
    with pytest.raises(ProfileError, match=r"profile.toml, line 2") as caught:
        load_profile(path)
    assert said in str(caught.value)


def test_keys_of_clocks_in_a_file(tmp_path: Path) -> None:
    text = "[log]\nepoch = 1984\nstart = 2024-05-01T06:00:00+02:00\nyear = 2024\ndate = 2024-05-01\n"
    keys = load_profile(write(tmp_path, text, "profile.toml")).log
    assert (str(keys.epoch), keys.year, str(keys.date)) == ("1984-01-01", 2024, "2024-05-01")
    assert keys.start == datetime(2024, 5, 1, 4, tzinfo=UTC)


def test_a_column_without_stamps_names_sample_line_and_remedy(tmp_path: Path) -> None:
    path = write(tmp_path, H + "soon;RUN;1\nlater;RUN;0\n")
    with pytest.raises(ReadingError) as caught:
        read(path, profile(time=["time"]))
    assert "log.csv, line 2" in str(caught.value)
    assert "'soon'" in str(caught.value)
    assert "[log] time_format" in str(caught.value)
