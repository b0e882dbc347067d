"""Guards the kinds of stamps: each way of writing an instant with the instant it stands for.

Instants of clock bytes and literals are those of the standards named beside them; the others are read off the text.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import polars as pl
import pytest

from eventlens.reading.clock import Origin, Stamps, read_clock
from eventlens.reading.clocks.rewrite import WAYS
from eventlens.reading.clocks.stamps import lines_said

MAY = "2024-05-13T06:00:00"


def stamps_of(texts: list[str | None], form: str | None = None, origin: Origin | None = None) -> Stamps:
    found = read_clock([pl.Series("t", texts, dtype=pl.String)], form, origin)
    assert found is not None
    return found


def shown(found: Stamps) -> list[str | None]:
    """The instants as ISO texts, null where there is none."""
    begin = datetime(1970, 1, 1)
    return [None if us is None else (begin + timedelta(microseconds=us)).isoformat() for us in found.time]


def iso(texts: list[str | None], form: str | None = None, origin: Origin | None = None) -> list[str | None]:
    return shown(stamps_of(texts, form, origin))


ISO_8601 = {
    "2024-05-13T06:00:00Z": MAY,
    "2024-05-13t06:00:00z": None,  # ISO 8601 and this reader know capitals only ...
    "2024-05-13T06:00:00.25+02:00": "2024-05-13T04:00:00.250000",
    "2024-05-13T06:00:00,25-0530": "2024-05-13T11:30:00.250000",
    "2024-05-13T06:00:00-00:00": MAY,  # RFC 3339: UTC, offset of the place not known
    "2024-05-13 06:00:00+02": "2024-05-13T04:00:00",
    "2016-12-31T23:59:60Z": "2017-01-01T00:00:00",  # leap second
    "2016-12-31T23:59:60.5Z": "2017-01-01T00:00:00.500000",
    "20240513T060000Z": MAY,
    "20240513T060000.25+0200": "2024-05-13T04:00:00.250000",
    "20240513T0600": MAY,
    "2024-W20-1T06:00:00": MAY,
    "2024W201T060000": MAY,
    "2024-134T06:00:00": MAY,
    "2024134T060000": MAY,
    "2020-W53-7T06:00:00": "2021-01-03T06:00:00",
    "2024-05-13T06": MAY,
    "2024-05-13T24:00:00": "2024-05-14T00:00:00",
    "1985-04-12T23:20:50.52Z": "1985-04-12T23:20:50.520000",  # the next four: RFC 5424, 6.2.3
    "1985-04-12T19:20:50.52-04:00": "1985-04-12T23:20:50.520000",
    "2003-10-11T22:14:15.003Z": "2003-10-11T22:14:15.003000",
    "2003-08-24T05:14:15.000003-07:00": "2003-08-24T12:14:15.000003",
}


@pytest.mark.parametrize("text", [text for text, want in ISO_8601.items() if want])
def test_iso_8601(text: str) -> None:
    assert iso([text] * 2) == [ISO_8601[text]] * 2


CONSOLES = {
    "[2024-05-13 06:00:00]": MAY,
    "<2024-05-13 06:00:00>:": MAY,
    "13.05.2024 06.00.00": MAY,
    "2024-05-13-06.00.00.250000": "2024-05-13T06:00:00.250000",
    "13/5/2024 6h00": MAY,
    "13/5/2024 6h00m00s": MAY,
    "2024:05:13 06:00:00": MAY,
    "13.05.2024 060000": MAY,
    "13.05.2024 6:00:00:5": "2024-05-13T06:00:00.005000",  # after a colon: a number of milliseconds
    "06:00:00 13.05.2024": MAY,
    "06:00:00.250 2024-05-13": "2024-05-13T06:00:00.250000",
    "Mon May 13 06:00:00 2024": MAY,
    "Mon May 13 06:00:00 CEST 2024": "2024-05-13T04:00:00",
    "13/May/2024:06:00:00 +0200": "2024-05-13T04:00:00",
    "Mon, 13 May 2024 06:00:00 GMT": MAY,
    "Mo 13.05.2024 06:00:00": MAY,
    "2024-05-13 Mon 06:00:00": MAY,
    "Lunes, 13 de mayo de 2024 06:00:00": MAY,
    "13 mai 2024 06:00:00": MAY,
    "13. Mai 2024 06:00:00": MAY,
    "13 maggio 2024 06:00": MAY,
    "13 de maio de 2024 06:00": MAY,
    "13 maja 2024 06:00": MAY,
    "May 13th, 2024 06:00:00": MAY,
    "2024-May-13 06:00:00": MAY,
    "2024年5月13日 06:00:00": MAY,
    "2024. 5. 13. 오전 6:00:00": MAY,
    "20240513060000": MAY,
    "20240513060000250": "2024-05-13T06:00:00.250000",
    "202405130600": MAY,
    "240513 060000": MAY,
    "2024-05-13 06:00:00 UTC+2": "2024-05-13T04:00:00",
    "2024-05-13T06:00:00+02:00[Europe/Berlin]": "2024-05-13T04:00:00",
    "2024-05-13 06:00:00 (MESZ)": "2024-05-13T04:00:00",
    "2024-05-13 06:00:00 EST": "2024-05-13T11:00:00",
    "2024-05-13 06:00:00.250 *": "2024-05-13T06:00:00.250000",
    "\u200e5/13/2024 6:00:00\u202fAM": MAY,
}


@pytest.mark.parametrize("text", CONSOLES)
def test_consoles(text: str) -> None:
    assert iso([text] * 2) == [CONSOLES[text]] * 2


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.example)
def test_every_way_of_writing_knows_its_example(way: object) -> None:
    example, pattern = way.example, way.pattern  # type: ignore[attr-defined]
    assert pl.Series([example]).str.contains(pattern).all()
    found = read_clock([pl.Series("t", [example] * 2)], None, Origin())
    assert found is not None
    assert not found.time.null_count()


@pytest.mark.parametrize(
    ("am", "pm"),
    [
        ("AM", "PM"),
        ("am", "pm"),
        ("a.m.", "p.m."),
        ("a. m.", "p. m."),
        ("vorm.", "nachm."),
        ("上午", "下午"),
        ("오전", "오후"),
        ("午前", "午後"),
        ("πμ", "μμ"),
        ("ÖÖ", "ÖS"),
        ("fm", "em"),
        ("dop.", "odp."),
        ("SA", "CH"),
        ("ap.", "ip."),
    ],
)
@pytest.mark.parametrize("gap", ["", " "])
def test_noon_and_midnight_in_every_spelling(am: str, pm: str, gap: str) -> None:
    texts: list[str | None] = [
        f"05/13/2024 {time}{gap}{half}"
        for half in (am, pm)
        for time in ("12:00:00", "12:59:59", "01:00:00", "11:30:00")
    ]
    hours = [found and found[11:] for found in iso(texts)]
    assert hours == ["00:00:00", "00:59:59", "01:00:00", "11:30:00", "12:00:00", "12:59:59", "13:00:00", "23:30:00"]


@pytest.mark.parametrize("text", ["05/13/2024 14:05:00 PM", "05/13/2024 2:05:00 PM"])
def test_a_marker_after_a_24_hour_time_adds_nothing(text: str) -> None:
    assert iso([text]) == ["2024-05-13T14:05:00"]


# IEC 61131-3 literals
LITERALS = {
    "DT#1996-05-06-15:36:30": "1996-05-06T15:36:30",
    "DATE_AND_TIME#1996-05-06-15:36:30.5": "1996-05-06T15:36:30.500000",
    "dt#2106-02-07-06:28:15": "2106-02-07T06:28:15",  # last second of 32 bits
    "LDT#1970-1-1-0:0:0.000001000": "1970-01-01T00:00:00.000001",
    "LDT#2024-5-13-6:0:0": MAY,
    "D#2018-8-31": "2018-08-31T00:00:00",
    "DATE#1996-05-06": "1996-05-06T00:00:00",
    "D#2024-05-13 TOD#06:00:00.25": "2024-05-13T06:00:00.250000",
    "DATE#2024-5-13 TIME_OF_DAY#15:36:55.36": "2024-05-13T15:36:55.360000",
}


@pytest.mark.parametrize("text", LITERALS)
def test_literals_of_iec_61131_3(text: str) -> None:
    assert iso([text] * 2) == [LITERALS[text]] * 2


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("T#5d14h12m18s3.5ms", 5 * 86400 + 14 * 3600 + 12 * 60 + 18.0035),
        ("TIME#5d_14h_12m_18s_3.5ms", 5 * 86400 + 14 * 3600 + 12 * 60 + 18.0035),
        ("t#14.7s", 14.7),
        ("T#-14ms", -0.014),
        ("LT#50d20h25m14s830ms652us315ns", 50 * 86400 + 20 * 3600 + 25 * 60 + 14.830652),
        ("LTIME#1h", 3600),
    ],
)
def test_durations_of_iec_61131_3_are_ticks(text: str, seconds: float) -> None:
    found = stamps_of(["T#0s", text], origin=Origin())
    assert found.floating
    assert (found.time[1] - found.time[0]) / 1e6 == pytest.approx(seconds, abs=1e-6)


# BCD date and time, two published examples; then a Tuesday and a Wednesday (weekday from the calendar)
BCD = {
    "99 12 13 07 06 05 88 80": "1999-12-13T07:06:05.888000",
    "10 12 23 11 30 30 12 35": "2010-12-23T11:30:30.123000",
    "24 12 31 23 59 58 97 53": "2024-12-31T23:59:58.975000",
    "25 01 01 00 00 00 47 54": "2025-01-01T00:00:00.475000",
    "89-12-31-23-59-59-99-90": "2089-12-31T23:59:59.999000",
    "0x90 0x01 0x01 0x00 0x00 0x00 0x00 0x02": "1990-01-01T00:00:00",
    "16#24,16#12,16#31,16#23,16#59,16#58,16#97,16#53": "2024-12-31T23:59:58.975000",
    "2412312359589753": "2024-12-31T23:59:58.975000",
    "36, 18, 49, 35, 89, 88, 151, 83": "2024-12-31T23:59:58.975000",  # the same bytes in decimal
}


@pytest.mark.parametrize("text", BCD)
def test_bcd_clock_bytes(text: str) -> None:
    assert iso([text] * 2) == [BCD[text]] * 2


@pytest.mark.parametrize(
    "bad",
    ["24 1A 31 23 59 58 97 53", "24 13 31 23 59 58 97 53", "24 02 30 23 59 58 97 53", "24 12 31 24 59 58 97 53"],
)
def test_impossible_bcd_bytes_show_no_instant(bad: str) -> None:
    found = stamps_of(["24 12 31 23 59 58 97 53", bad, "25 01 01 00 00 00 47 54"])
    assert found.time.is_null().to_list() == [False, True, False]
    assert found.undated is not None
    assert found.undated.to_list() == [False, True, False]


def test_a_weekday_that_is_not_the_dates_is_said() -> None:
    found = stamps_of(["24 12 31 23 59 58 97 53"] * 4 + ["24 12 31 23 59 58 97 54"])
    assert any("weekday of 1 stamp" in note for note in found.notes)
    assert not stamps_of(["24 12 31 23 59 58 97 53"] * 4 + ["24 12 31 23 59 58 97 50"]).notes  # 0 is unset


# CP56Time2a, bytes put together by hand: 06:30:01.000, Wednesday 1 May 2024; minutes bit 7 invalid, hours bit 7 summer
def test_cp56_clock_bytes() -> None:
    texts: list[str | None] = ["E8 03 1E 06 61 05 18", "E8 03 9E 06 61 05 18", "E9 03 1E 86 61 05 18"]
    found = stamps_of(texts)
    assert shown(found) == ["2024-05-01T06:30:01", None, "2024-05-01T06:30:01.001000"]
    assert found.undated is not None
    assert found.undated.to_list() == [False, True, False]
    assert found.summer is not None
    assert found.summer.to_list() == [False, False, True]
    assert iso(["E8031E06610518", "5FEA3B175F0C18"]) == ["2024-05-01T06:30:01", "2024-12-31T23:59:59.999000"]


COUNTS = {
    ("1715580000", None): MAY,
    ("1715580000.5", None): "2024-05-13T06:00:00.500000",
    ("1715580000,5", None): "2024-05-13T06:00:00.500000",
    ("1715580000500", None): "2024-05-13T06:00:00.500000",
    ("1715580000500000", None): "2024-05-13T06:00:00.500000",
    ("1715580000500000999", None): "2024-05-13T06:00:00.500000",
    ("133600536000000000", None): MAY,  # tenths of microseconds since 1601: 11644473600 s more than since 1970
    ("638511768000000000", None): MAY,  # tenths of microseconds since year 1: 62135596800 s more than since 1970
    ("768895200", date(2000, 1, 1)): MAY,  # 946684800 s less
    ("768895200250", date(2000, 1, 1)): "2024-05-13T06:00:00.250000",
    ("1273816800", date(1984, 1, 1)): MAY,  # 441763200 s less
    ("1400047200", date(1980, 1, 1)): MAY,  # 315532800 s less
    ("1399615200", date(1980, 1, 6)): MAY,  # 315964800 s less
    ("3798424800", date(1904, 1, 1)): MAY,  # 2082844800 s more
    ("45425.25", None): MAY,
    ("45425,25", None): MAY,
    ("43963.25", date(1904, 1, 1)): MAY,  # 1462 days less
}


@pytest.mark.parametrize(("text", "epoch"), COUNTS)
def test_counts_since_an_epoch(text: str, epoch: date | None) -> None:
    assert iso([text] * 2, origin=Origin(epoch=epoch)) == [COUNTS[text, epoch]] * 2


@pytest.mark.parametrize(
    "column",
    [
        pl.Series("t", [1715580000, 1715580000]),
        pl.Series("t", [1715580000.0] * 2),
        pl.Series("t", [20240513060000] * 2),
        pl.Series("t", [45425.25] * 2),
        pl.Series("t", [datetime(2024, 5, 13, 6)] * 2),
        pl.Series("t", [datetime(2024, 5, 13, 8)] * 2).dt.replace_time_zone("Europe/Berlin"),
    ],
    ids=lambda column: str(column.dtype),
)
def test_typed_columns(column: pl.Series) -> None:
    found = read_clock([column])
    assert found is not None
    assert shown(found) == [MAY] * 2


@pytest.mark.parametrize(
    "text",
    ["hello", "RUN", "1", "06:00:00", "2024", "99.99.2024 10:00:00", "K11 4", "", "1.2", "2000.125", "010203", "May 9"],
)
def test_what_is_no_stamp_without_more_knowledge(text: str) -> None:
    found = read_clock([pl.Series("t", [text] * 3)])
    assert found is None or found.time.null_count() == 3


@pytest.mark.parametrize(
    ("texts", "impossible"),
    [
        (["03.05.2024 07:00:00", "45.165.2165 63:10:85"], True),
        (["03.05.2024 07:00:00", "00.00.0000 00:00:00"], True),
        (["2024-05-03T07:00:00.000", "2024-02-30T07:00:00.000"], True),
        (["2024-05-03 07:00:00", "FFFF-FF-FF FF:FF:FF"], True),
        (["2024-05-03 07:00:00", "2024-05-03 25:00:00"], True),
        (["31-May-2024 07:00:00", "31-Feb-2024 07:00:00"], True),
        (["1715580000", "0"], True),
        (["31-May-2024 07:00:00", "31-Jum-2024 07:00:00"], False),  # an unknown word, no impossible date
        (["2024-05-03 07:00:00", "2024-05-03 07:0"], False),
        (["2024-05-03 07:00:00", "end of log"], False),
        (["2024-05-03 07:00:00", None], False),
    ],
)
def test_impossible_instants_and_other_texts(texts: list[str | None], impossible: bool) -> None:
    found = stamps_of([texts[0], *texts, texts[0]])
    assert found.time.is_null().to_list() == [False, False, True, False]
    undated = found.undated.to_list() if found.undated is not None else [False] * 4
    assert undated == [False, False, impossible, False]


def test_readings_are_counted_in_rows() -> None:
    texts: list[str | None] = ["05.03.2024 08:00:00"] * 3 + ["13.03.2024 08:00:00"] * 2
    assert stamps_of(texts).readings == (("day.month.year", 5), ("month/day/year", 3))
    assert stamps_of(["1715580000", "1715580000000", "1715580000001"]).readings == (
        ("milliseconds since 1970", 2),
        ("seconds since 1970", 1),
    )


@pytest.mark.parametrize(("zone", "said"), [("CST", "-6 h"), ("BST", "+1 h"), ("CET", None), ("+02:00", None)])
def test_abbreviations_of_several_zones_are_said(zone: str, said: str | None) -> None:
    notes = stamps_of([f"2024-05-13 06:00:00 {zone}"] * 2).notes
    assert [said in note for note in notes if said] == ([True] if said else [])
    assert len(notes) == (said is not None)


def test_masks_follow_their_rows() -> None:
    found = stamps_of(["2024-05-13 06:00:00"] * 4)
    breaks = pl.Series([False, True, False, False])
    marked = Stamps(found.time, None, "", 1, breaks=breaks)

    def left(stamps: Stamps) -> list[bool]:
        assert stamps.breaks is not None
        return stamps.breaks.to_list()

    # a break before a row that goes stands before the next row that stays
    assert left(marked.filter(pl.Series([True, False, True, True]))) == [False, True, False]
    assert left(marked.filter(pl.Series([False, True, True, True]))) == [True, False, False]
    assert left(marked.reverse()) == [False, False, False, True]
    assert left(marked.reverse().reverse()) == [False, True, False, False]


def test_lines_are_said_with_the_first_few() -> None:
    mask = pl.Series([False, True, True, True, True, True])
    assert lines_said(mask, None) == "rows 2, 3, 4 and 2 more"
    assert lines_said(mask, pl.Series([7, 9, 11, 12, 13, 14]), 2) == "lines 9, 11 and 3 more"
    assert lines_said(pl.Series([True]), None) == "row 1"


def test_the_date_of_a_file_decides_what_its_stamps_leave_open() -> None:
    from eventlens.reading.clocks.origin import Piece

    def origin(named: date | None, written: date | None) -> Origin:
        modified = None if written is None else datetime(written.year, written.month, written.day, tzinfo=UTC)
        return Origin(pieces=(Piece(1, named, modified),))

    text: list[str | None] = ["05/03/2024 08:00:00"]
    assert iso(text, origin=origin(None, date(2024, 3, 20))) == ["2024-03-05T08:00:00"]
    assert iso(text, origin=origin(date(2024, 5, 3), None)) == ["2024-05-03T08:00:00"]
    assert iso(["05/12/2024 08:00:00"], origin=origin(None, date(2024, 6, 1))) == ["2024-05-12T08:00:00"]
    assert iso(["24-03-27 10:00:00"], origin=origin(None, date(2024, 4, 1))) == ["2024-03-27T10:00:00"]
    assert iso(["27-03-24 10:00:00"], origin=origin(None, date(2024, 4, 1))) == ["2024-03-27T10:00:00"]
