"""Guards starts per sliding hour: the half-open window, equal stamps, clock steps, and the stretches above a limit."""

from __future__ import annotations

import random
from collections import Counter
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import duckdb
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from eventlens import schema
from eventlens.duty.starts import busiest, clock_hours, excess_windows, sliding_starts
from eventlens.errors import EventlensError

DAY = datetime(2024, 5, 1, tzinfo=UTC)
HOUR_US = 3_600_000_000


def instants(*times: datetime) -> pl.Series:
    return pl.Series("start", times, dtype=schema.TIME)


def at(clock: str) -> datetime:
    """An instant of 1 May 2024, written HH:MM or HH:MM:SS."""
    return datetime.fromisoformat(f"2024-05-01T{clock}+00:00")


def micro(*microseconds: int) -> pl.Series:
    return pl.Series("start", microseconds, dtype=pl.Int64).cast(schema.TIME)


def us(times: pl.Series) -> list[int]:
    return times.to_physical().to_list()


BURST = instants(*map(at, ("06:40", "06:45", "06:50", "06:55", "07:05", "07:10", "07:15", "07:30")))


# A burst across the hour mark; every number here was counted by hand.


def test_clock_hours_split_a_burst_that_the_sliding_hour_sees() -> None:
    assert clock_hours(BURST, "UTC")["count"].to_list() == [4, 4]
    peak = busiest(sliding_starts(BURST))
    assert peak is not None
    assert (peak.value, peak.at) == (8, at("07:30"))


def test_limit_is_first_exceeded_at_the_seventh_start() -> None:
    sliding = sliding_starts(BURST)
    assert sliding["count"].to_list() == [1, 2, 3, 4, 5, 6, 7, 8]
    assert sliding.filter(pl.col("count") > 6)["time"][0] == at("07:15")
    assert excess_windows(sliding, 6).rows() == [(at("06:15"), at("07:30"), 8, 0)]


def test_a_start_exactly_one_hour_old_is_outside() -> None:
    sliding = sliding_starts(pl.concat([instants(at("06:30:00")), BURST]))
    assert sliding["count"].to_list() == [1, 2, 3, 4, 5, 6, 7, 8, 8]
    peak = busiest(sliding)
    assert peak is not None
    assert (peak.value, peak.at) == (8, at("07:15"))
    assert sliding.filter(pl.col("count") > 6)["time"][0] == at("07:10")


@pytest.mark.parametrize(("age", "count"), [(HOUR_US - 1, 2), (HOUR_US, 1), (HOUR_US + 1, 1)])
def test_window_is_half_open_to_the_microsecond(age: int, count: int) -> None:
    assert sliding_starts(micro(0, age))["count"].to_list() == [1, count]


def test_equal_stamps_all_count_at_their_instant() -> None:
    sliding = sliding_starts(micro(5, 5, 5, 9))
    assert sliding["count"].to_list() == [3, 3, 3, 4]
    assert us(sliding["time"]) == [5, 5, 5, 9]


def test_no_starts() -> None:
    sliding = sliding_starts(instants())
    assert sliding.schema == {"time": schema.TIME, "count": pl.UInt32, "clock": pl.UInt32}
    assert busiest(sliding) is None
    assert excess_windows(sliding, 0).is_empty()
    assert clock_hours(instants(), "Europe/Lisbon").is_empty()


@pytest.mark.parametrize(("limit", "stretches"), [(1, 1), (1.5, 1), (2, 0), (3, 0), (float("inf"), 0)])
def test_exactly_the_limit_is_no_excess(limit: float, stretches: int) -> None:
    assert excess_windows(sliding_starts(micro(0, 1)), limit).height == stretches


@pytest.mark.parametrize(("later", "stretches"), [(HOUR_US - 1, 1), (HOUR_US, 1), (HOUR_US + 1, 2)])
def test_windows_that_touch_are_one_stretch(later: int, stretches: int) -> None:
    # pairs at 0 and at `later`: the first window over the limit of 1 ends at 0, the second begins at later - 1 h
    sliding = sliding_starts(micro(0, 0, later, later))
    found = excess_windows(sliding, 1)
    assert found.height == stretches
    assert us(found["start"])[0] == -HOUR_US
    assert us(found["end"])[-1] == later


def test_windows_never_reach_over_a_clock_step() -> None:
    clock = pl.Series([7, 7, 9, 9, 9])
    # the clock was set back: the later label's instants lie before the earlier label's
    sliding = sliding_starts(micro(1000, 1001, 999, 1000, 1002), clock=clock)
    assert sliding.select("count", "clock").rows() == [(1, 7), (2, 7), (1, 9), (2, 9), (3, 9)]
    assert excess_windows(sliding, 1)["clock"].to_list() == [7, 9]
    peak = busiest(sliding)
    assert peak is not None
    assert peak.value == 3


def test_the_order_of_the_starts_does_not_matter() -> None:
    assert_frame_equal(sliding_starts(BURST.shuffle(seed=3)), sliding_starts(BURST))


@pytest.mark.parametrize("window_s", [0.0, -1.0, float("nan"), float("inf")])
def test_impossible_windows_are_refused(window_s: float) -> None:
    with pytest.raises(EventlensError, match="a window longer than 0 s"):
        sliding_starts(BURST, window_s)


@pytest.mark.parametrize("limit", [-1.0, float("nan")])
def test_impossible_limits_are_refused(limit: float) -> None:
    with pytest.raises(EventlensError, match="a limit not below 0"):
        excess_windows(sliding_starts(BURST), limit)


@pytest.mark.parametrize(
    ("starts", "clock"),
    [
        (pl.Series([datetime(2024, 5, 1)], dtype=pl.Datetime("us")), None),
        (pl.Series([None], dtype=schema.TIME), None),
        (BURST, pl.Series([0, 1])),
    ],
    ids=["without zone", "null", "labels too few"],
)
def test_wrong_tables_are_refused(starts: pl.Series, clock: pl.Series | None) -> None:
    with pytest.raises(schema.SchemaError):
        sliding_starts(starts, clock=clock)


# Clock hours. Days of change and offsets: IANA time zone data.


def test_the_hour_that_comes_twice_is_two_hours() -> None:
    # Berlin, 27 October 2024: 02:30 summer time is 00:30 UTC, 02:30 winter time is 01:30 UTC
    night = datetime(2024, 10, 27, tzinfo=UTC)
    found = clock_hours(instants(*(night + timedelta(minutes=m) for m in (30, 59, 60, 119, 120))), "Europe/Berlin")
    assert found["count"].to_list() == [2, 2, 1]
    assert [hour.isoformat() for hour in found["hour"]] == [
        "2024-10-27T02:00:00+02:00",
        "2024-10-27T02:00:00+01:00",
        "2024-10-27T03:00:00+01:00",
    ]


def test_the_hour_that_is_left_out_holds_nothing() -> None:
    # Berlin, 31 March 2024: 00:59:50 UTC is 01:59:50, 01:00:10 UTC is 03:00:10
    night = datetime(2024, 3, 31, tzinfo=UTC)
    found = clock_hours(instants(*(night + timedelta(seconds=s) for s in (3590, 3610))), "Europe/Berlin")
    assert [hour.hour for hour in found["hour"]] == [1, 3]


def test_hours_of_a_zone_off_by_three_quarters() -> None:
    # Kathmandu is 5 h 45 min ahead: 00:14 UTC is 05:59, 00:15 UTC is 06:00
    found = clock_hours(instants(at("00:14"), at("00:15"), at("01:14")), "Asia/Kathmandu")
    assert [(hour.isoformat()[11:16], count) for hour, count in found.select("hour", "count").rows()] == [
        ("05:00", 1),
        ("06:00", 2),
    ]


def test_hours_of_a_zone_whose_summer_time_is_half_an_hour() -> None:
    # Lord Howe in January is 11 h ahead, of that half an hour of summer time: 00:59 UTC is 11:59, 01:00 UTC is 12:00
    january = datetime(2024, 1, 15, tzinfo=UTC)
    found = clock_hours(instants(*(january + timedelta(minutes=m) for m in (59, 60, 119))), "Australia/Lord_Howe")
    assert [(hour.isoformat()[11:16], count) for hour, count in found.select("hour", "count").rows()] == [
        ("11:00", 1),
        ("12:00", 2),
    ]


def test_clock_hours_keep_the_clocks_apart() -> None:
    found = clock_hours(instants(at("06:10"), at("06:20"), at("06:05")), "UTC", pl.Series([0, 0, 1]))
    assert found.select("count", "clock").rows() == [(2, 0), (1, 1)]


@given(st.lists(st.integers(0, 400 * 24 * 60), min_size=1, max_size=60))
def test_clock_hours_agree_with_the_standard_library(minutes: list[int]) -> None:
    zone = ZoneInfo("Europe/Berlin")
    times = [DAY + timedelta(minutes=m) for m in minutes]
    plain = Counter((t.astimezone(zone).strftime("%Y-%m-%d %H %z")) for t in times)
    found = clock_hours(instants(*times), "Europe/Berlin")
    assert {h.strftime("%Y-%m-%d %H %z"): n for h, n in found.select("hour", "count").rows()} == plain
    assert found["hour"].is_sorted()


# Slow oracles


starts_and_labels = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 2)), max_size=40)


@settings(deadline=None)  # a busy computer is no fault
@given(starts_and_labels, st.integers(1, 25))
def test_sliding_starts_agree_with_counting_one_by_one(starts: list[tuple[int, int]], window: int) -> None:
    clock = pl.Series([label for _, label in starts], dtype=pl.Int64)
    found = sliding_starts(micro(*(t for t, _ in starts)), window / 1e6, clock)
    plain = [
        (t, sum(other == label and t - window < s <= t for s, other in starts), label)
        for t, label in sorted(starts, key=lambda pair: (pair[1], pair[0]))
    ]
    assert list(zip(us(found["time"]), found["count"], found["clock"], strict=True)) == plain


@settings(deadline=None)  # a busy computer is no fault
@given(starts_and_labels, st.integers(1, 25), st.integers(0, 6))
def test_excess_covers_exactly_the_windows_above_the_limit(
    starts: list[tuple[int, int]], window: int, limit: int
) -> None:
    clock = pl.Series([label for _, label in starts], dtype=pl.Int64)
    sliding = sliding_starts(micro(*(t for t, _ in starts)), window / 1e6, clock)
    found = excess_windows(sliding, limit, window / 1e6)
    covered = {
        (label, x)
        for start, end, label in zip(us(found["start"]), us(found["end"]), found["clock"], strict=True)
        for x in range(start + 1, end + 1)
    }
    rows = zip(us(sliding["time"]), sliding["count"], sliding["clock"], strict=True)
    over = [row for row in rows if row[1] > limit]
    assert covered == {(label, x) for t, _, label in over for x in range(t - window + 1, t + 1)}
    assert max(found["peak"], default=0) == max((n for _, n, _ in over), default=0)
    apart = found.with_columns(pl.col("end").shift(1).over("clock").alias("before")).drop_nulls()
    assert (apart["start"] > apart["before"]).all()


@pytest.mark.parametrize("seed", range(4))
def test_busiest_hour_agrees_with_a_database(seed: int) -> None:
    chance = random.Random(seed)
    # stamps on a grid of one minute over two days: many ties, many pairs exactly one hour apart
    times = [DAY + timedelta(minutes=chance.randrange(2 * 24 * 60)) for _ in range(3000)]
    frame = pl.DataFrame({"t": instants(*times).dt.replace_time_zone(None)})
    with duckdb.connect() as database:
        database.register("starts", frame.to_arrow())
        # closed at both ends by the language, so the window is one microsecond shorter than the hour
        rows = database.execute(
            """SELECT t, count(*) OVER (ORDER BY t RANGE BETWEEN INTERVAL 3599999999 MICROSECOND PRECEDING
               AND CURRENT ROW) AS n FROM starts ORDER BY n DESC, t"""
        ).fetchall()
    peak = busiest(sliding_starts(instants(*times)))
    assert peak is not None
    assert (peak.at.replace(tzinfo=None), peak.value) == rows[0]
    counted = sliding_starts(instants(*times))["count"].to_list()
    assert sorted(counted) == sorted(n for _, n in rows)
