"""Guards stamps: notations, order of day and month, units, zones; and the fast cutter against a plain parser."""

from __future__ import annotations

from datetime import UTC, datetime

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.reading.clock import read_clock, to_utc
from eventlens.reading.clocks.fixed import BLOCK

LATE = 2_000_000


def instants(texts: list[str | None], zone: str = "UTC", time_format: str | None = None) -> list[str | None]:
    """The stamps in UTC as ISO texts; null where one is not understood."""
    stamps = read_clock([pl.Series("t", texts, dtype=pl.String)], time_format)
    assert stamps is not None
    utc, _, _ = to_utc(stamps, zone, LATE)
    return [None if us is None else datetime.fromtimestamp(us / 1e6, UTC).isoformat()[:-6] for us in utc]


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("2024-05-13 06:00:00", "2024-05-13T06:00:00"),
        ("2024-05-13T06:00:00.25Z", "2024-05-13T06:00:00.250000"),
        ("2024/05/13 06:00:00,25", "2024-05-13T06:00:00.250000"),
        ("13.05.2024  6:00:00:250", "2024-05-13T06:00:00.250000"),
        ("13.5.24 6:00", "2024-05-13T06:00:00"),
        ("05/13/2024, 06:00:00 PM", "2024-05-13T18:00:00"),
        ("20240513T060000", "2024-05-13T06:00:00"),
        ("20240513 060000,5", "2024-05-13T06:00:00.500000"),
        ("13 May 2024 06:00:00", "2024-05-13T06:00:00"),
        ("Mon, 13 May 2024 06:00:00 +0200", "2024-05-13T04:00:00"),
        ("13. März 2024 06:00:00", "2024-03-13T06:00:00"),
        ("13-Okt-2024 06:00:00", "2024-10-13T06:00:00"),
        ("13 févr. 2024 06:00:00", "2024-02-13T06:00:00"),
        ("13-ago-2024 06:00:00", "2024-08-13T06:00:00"),
        ("December 13, 2024 06:00:00", "2024-12-13T06:00:00"),
        ("2024-05-13", "2024-05-13T00:00:00"),
        ("2024-05-13 24:00:00", "2024-05-14T00:00:00"),
        ("2024-05-13 06:00:00.123456789", "2024-05-13T06:00:00.123456"),  # microseconds are kept, not rounded up
        ("1715580000", "2024-05-13T06:00:00"),
        ("1715580000.5", "2024-05-13T06:00:00.500000"),
        ("1715580000500", "2024-05-13T06:00:00.500000"),
        ("1715580000500000", "2024-05-13T06:00:00.500000"),
        ("1715580000500000000", "2024-05-13T06:00:00.500000"),
        ("45425.25", "2024-05-13T06:00:00"),
    ],
)
def test_notations(text: str, iso: str) -> None:
    assert instants([text, text]) == [iso, iso]


@pytest.mark.parametrize("text", ["hello", "RUN", "1", "06:00:00", "2024", "99.99.2024 10:00:00", "K11 4", ""])
def test_what_is_no_stamp(text: str) -> None:
    found = read_clock([pl.Series("t", [text] * 3)])
    assert found is None or found.time.null_count() == 3


@pytest.mark.parametrize(
    "text",
    [
        "2024-05-13 06:00:0O.250",
        "2024-05-13 06x00:00.250",
        "2024-05-13 +6:00:00.250",
        "2024-05-13 29:00:00.250",
        "2024-05-13 06:61:00.250",
        "2024-02-30 06:00:00.250",
        "2024-05-13 06:00:00.25",  # shorter, but a stamp: see below
    ],
)
def test_one_odd_stamp_among_many_of_one_notation(text: str) -> None:
    good = "2024-05-13 06:00:00.250"
    odd = "2024-05-13T06:00:00.250000" if text.endswith(".25") else None
    assert instants([good, text, good]) == ["2024-05-13T06:00:00.250000", odd, "2024-05-13T06:00:00.250000"]


@pytest.mark.parametrize(
    ("texts", "want"),
    [
        (["2024-05-13T06:00:00Z", "2024-05-13T06:00:01Z"], ["06:00:00", "06:00:01"]),
        (["2024-05-13 06:00:00+02:00", "2024-05-13 06:00:01+02:00"], ["04:00:00", "04:00:01"]),
        (["2024-05-13 06:00:00-05:30", "2024-05-13 06:00:01+01:00"], ["11:30:00", "05:00:01"]),
        (
            ["2024-05-13 06:00:00+02:00", "2024-05-13 06:00:01"],
            ["04:00:00", "03:00:01"],
        ),  # without an offset: the zone's
        (["2024-05-13 06:00:01", "2024-05-13 06:00:00+02:00"], ["03:00:01", "04:00:00"]),
        (["2024-05-13 06:00:00+02:00", "2024-05-13 06:00:0O+02:00"], ["04:00:00", None]),
    ],
)
def test_offsets(texts: list[str | None], want: list[str | None]) -> None:
    found = [text and text[11:] for text in instants(texts, zone="Europe/Helsinki")]
    assert found == want


def test_a_second_of_sixty_is_the_next_minute() -> None:
    assert instants(["2016-12-31 23:59:60", "2016-12-31 23:59:59"])[0] == "2017-01-01T00:00:00"


def test_a_stated_format_goes_before_everything() -> None:
    texts = ["05/06/2024 07:00", "06/06/2024 07:00"]
    assert instants(texts, time_format="%m/%d/%Y %H:%M") == ["2024-05-06T07:00:00", "2024-06-06T07:00:00"]
    assert instants(["86400"], time_format="epoch_s") == ["1970-01-02T00:00:00"]


def test_newest_first_dates_are_no_reason_for_the_other_order() -> None:
    assert instants(["03/05/2024 08:00:00", "02/05/2024 08:00:00"])[0] == "2024-05-03T08:00:00"


def test_typed_columns() -> None:
    local = pl.Series("t", [datetime(2024, 5, 13, 6)])
    found = read_clock([local])
    assert found is not None
    assert found.absolute is None
    zoned = read_clock([local.dt.replace_time_zone("Europe/Berlin")])
    assert zoned is not None
    assert zoned.absolute is not None
    assert zoned.time[0] == found.time[0] - 7_200_000_000  # two hours before UTC in summer


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.datetimes(datetime(1971, 1, 1), datetime(2099, 12, 31)), min_size=1, max_size=30),
    st.sampled_from(("%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%Y-%m-%dT%H:%M:%S")),
    st.sampled_from((0, 3, 6)),
)
def test_the_fast_cutter_agrees_with_the_standard_library(times: list[datetime], shape: str, digits: int) -> None:
    unit = 10 ** (6 - digits)
    whole = [time.replace(microsecond=time.microsecond // unit * unit) for time in times]
    texts = [time.strftime(shape) + (f".{time.microsecond:06}"[: digits + 1] if digits else "") for time in whole]
    found = read_clock([pl.Series("t", texts)])
    assert found is not None
    want = [round((time - datetime(1970, 1, 1)).total_seconds() * 1e6) for time in whole]
    if not found.notes:  # dotted dates are always read day first
        assert found.time.to_list() == want
    assert found.resolution_us == unit


def test_more_stamps_than_one_block() -> None:
    count = BLOCK + 10
    column = pl.select(t=pl.lit(datetime(2024, 5, 13, 23, 59)) + pl.int_range(count) * pl.duration(milliseconds=1))["t"]
    found = read_clock([column.dt.strftime("%Y-%m-%d %H:%M:%S%.3f")])
    assert found is not None
    assert found.time.equals(column.dt.cast_time_unit("us").cast(pl.Int64), check_names=False)


def test_repeated_hour_without_a_step_back_is_said() -> None:
    stamps = read_clock([pl.Series("t", ["2024-10-27 02:10:00", "2024-10-27 02:20:00"])])
    assert stamps is not None
    _, _, notes = to_utc(stamps, "Europe/Berlin", LATE)
    assert len(notes) == 1
    assert "summer time" in notes[0]


@pytest.mark.parametrize(("back", "passes"), [("02:29:58", 0), ("02:29:57.999", 1)])
def test_a_late_arrival_in_the_repeated_hour_is_no_second_pass(back: str, passes: int) -> None:
    utc = instants(["2024-10-27 02:30:00", f"2024-10-27 {back}"], zone="Europe/Berlin")
    assert str(utc[1]).startswith("2024-10-27T01" if passes else "2024-10-27T00")
