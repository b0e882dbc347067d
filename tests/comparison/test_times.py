"""Guards measured times before and after: a brake that was adjusted, one that was not, one that drifts."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

import eventlens
from eventlens.result import Review
from eventlens.wiring import review_log
from tests.comparison.stories import log_of
from tests.logs import merged, run
from tests.patterns.helpers import M5

DAY = 86_400.0


def releasing(times: list[float], begin: float = 0.0, every_s: float = 60.0, **options: Any) -> Review:
    """Raises whose brake confirms after these times [s]."""
    starts = [begin + 10 + number * every_s for number in range(len(times))]
    parts = [run(at, at + 5, brake=(at + took, at + 5.1)) for at, took in zip(starts, times, strict=True)]
    return review_log(log_of(merged(*parts), begin=begin, **options), M5)


def release(before: Review, after: Review) -> dict[str, Any]:
    found = eventlens.compare_reviews(before, after).times
    return found.row(by_predicate=pl.col("time") == "release_time_s", named=True)


SLOW = [0.30, 0.32, 0.31, 0.29, 0.33, 0.30, 0.31, 0.32]


def test_a_brake_that_was_adjusted_releases_sooner() -> None:
    row = release(releasing(SLOW), releasing([time - 0.12 for time in SLOW], 20_000))
    assert (row["before_n"], row["after_n"], row["verdict"]) == (8, 8, "shorter")
    assert row["shift_s"] == pytest.approx(-0.12)
    assert row["before_median_s"] == pytest.approx(0.31)
    assert release(releasing(SLOW), releasing([time + 0.12 for time in SLOW], 20_000))["verdict"] == "longer"


def test_the_same_times_show_nothing() -> None:
    row = release(releasing(SLOW), releasing(SLOW[::-1], 20_000))
    assert (row["verdict"], row["shift_s"]) == ("not_shown", 0)
    assert row["shift_low_s"] <= 0 <= row["shift_high_s"]


def test_what_is_smaller_than_the_log_step_is_not_shown() -> None:
    before, sooner = releasing(SLOW * 4, step_s=0.2), releasing([time - 0.12 for time in SLOW * 4], 20_000, step_s=0.2)
    row = release(before, sooner)
    assert row["p_adjusted"] < 0.05
    assert row["verdict"] == "not_shown"


def test_few_times_are_shown_and_not_judged() -> None:
    row = release(releasing(SLOW[:4]), releasing(SLOW, 20_000))
    assert (row["before_n"], row["shift_s"], row["p"], row["verdict"]) == (4, None, None, "not_shown")


def test_a_time_that_one_side_lacks_is_left_out() -> None:
    found = eventlens.compare_reviews(releasing(SLOW), releasing([], 20_000, end=30_000.0))
    assert found.times.is_empty()
    assert found.times_compared == 0


def test_a_drift_before_and_none_after() -> None:
    rising = releasing([0.20 + 0.01 * day for day in range(6)], every_s=DAY)
    row = release(rising, releasing([0.2] * 6, 10 * DAY, every_s=DAY))
    assert row["before_slope_s_per_day"] == pytest.approx(0.01)
    assert row["before_slope_low"] > 0
    assert row["after_slope_s_per_day"] == 0
