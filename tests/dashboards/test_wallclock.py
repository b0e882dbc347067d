"""Guards times: shown in the log's zone, and the same instant again when a place on the axis comes back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.wallclock import INSTANT, WallClock, micros, read_place, read_window

SUMMER = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)
AUTUMN = datetime(2026, 10, 24, 12, 0, tzinfo=UTC)  # clocks of Lisbon go back on Sunday 25 October 2026, 01:00 UTC


def test_times_are_shown_in_the_zone_of_the_log() -> None:
    clock = WallClock.of(SUMMER, SUMMER + timedelta(days=7), "Europe/Lisbon", 0.01)
    assert clock.text(SUMMER) == "2026-07-01 13:00:00.000"  # Lisbon is one hour ahead of UTC in summer
    assert clock.short(SUMMER) == "Wed 1 Jul 2026 13:00"
    assert clock.name == "Europe/Lisbon, UTC+01:00"
    assert clock.axis([micros(SUMMER)])[0] == micros(SUMMER) / 1000 + 3_600_000


def test_a_zone_that_changes_its_clock_is_told_and_texts_carry_their_offset() -> None:
    clock = WallClock.of(AUTUMN, AUTUMN + timedelta(days=2), "Europe/Lisbon", 1.0)
    assert clock.name == "UTC+01:00 throughout, although Europe/Lisbon changes its clock within this log"
    assert clock.text(AUTUMN) == "2026-10-24 13:00:00 +01:00"
    assert clock.text(AUTUMN + timedelta(days=1)) == "2026-10-25 12:00:00 +00:00"
    day = clock.axis([micros(AUTUMN), micros(AUTUMN + timedelta(days=1))])
    assert day[1] - day[0] == 86_400_000  # the axis runs on evenly


@pytest.mark.parametrize(("step_s", "text"), [(1.0, "12:00:00"), (0.02, "12:00:00.000"), (1e-4, "12:00:00.000000")])
def test_seconds_carry_the_decimals_of_the_log_step(step_s: float, text: str) -> None:
    assert WallClock.of(SUMMER, SUMMER, "UTC", step_s).text(SUMMER) == f"2026-07-01 {text}"


@given(st.integers(0, 4 * 10**15))
def test_a_place_on_the_axis_leads_back_to_its_instant(instant: int) -> None:
    clock = WallClock.of(SUMMER, SUMMER, "Asia/Kathmandu", 0.01)
    assert abs(clock.instant(float(clock.axis([instant])[0])) - instant) <= 1  # [us]: what a float of ms can hold


def test_texts_of_a_column() -> None:
    clock = WallClock.of(SUMMER, SUMMER, "UTC", 1.0)
    column = pl.Series([SUMMER, SUMMER + timedelta(seconds=1)], dtype=INSTANT)
    assert clock.texts(column).to_list() == ["2026-07-01 12:00:00", "2026-07-01 12:00:01"]


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        (12.5, 12.5),
        ("1970-01-01", 0.0),
        ("1970-01-01 00:01", 60_000.0),
        ("1970-01-01 00:00:01.5", 1_500.0),
        ("1970-01-01 00:00:01.2345", 1_234.5),
    ],
)
def test_places_as_the_chart_reports_them(place: object, expected: float) -> None:
    assert read_place(place) == expected


@pytest.mark.parametrize(
    ("relayout", "expected"),
    [
        (None, None),
        ({"autosize": True}, None),
        ({"xaxis.autorange": True}, "whole"),
        ({"xaxis.range[0]": "1970-01-01", "xaxis.range[1]": "1970-01-02"}, (0.0, 86_400_000.0)),
        ({"xaxis.range": ["1970-01-01", "1970-01-02"]}, (0.0, 86_400_000.0)),
    ],
)
def test_what_a_change_of_the_view_asks_for(relayout: dict[str, object] | None, expected: object) -> None:
    assert read_window(relayout) == expected
