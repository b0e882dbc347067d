"""Guards the weeks of a review: counts, uses and times by local ISO week, and that parts add up to the whole."""

from __future__ import annotations

from dataclasses import replace

import polars as pl
import pytest

from eventlens import schema
from eventlens.comparison.cut import cut
from eventlens.comparison.exposure import use_of
from eventlens.result import Review
from eventlens.statistics.bursts import spread
from eventlens.trends import gather, trends, weeks_of
from eventlens.trends.rates import spread_of
from eventlens.wiring import review_log
from tests.comparison.stories import log_of, side, work
from tests.logs import HOIST, at, off
from tests.patterns.helpers import M5

WEEK = 7 * 86400.0


@pytest.fixture(scope="module")
def two() -> Review:
    """Drop-outs in 300 raises on the Monday of W10 and in 200 on that of W11; nothing is logged between."""
    again = [(WEEK, name, value) for _, name, value in off(*HOIST)]  # after a hole nothing is known
    parts = work(300, {3, 50, 51}), again, work(200, {7}, begin=WEEK)
    logged = log_of(*parts, end=WEEK + 25_000, holes=[(37_000, WEEK)])
    return review_log(logged, M5)


def of(frame: pl.DataFrame, pattern: str = "drop_out") -> pl.DataFrame:
    return frame.filter(pl.col("pattern") == pattern)


def test_counts_and_uses_of_each_week(two: Review) -> None:
    found = of(weeks_of(two).counts)
    assert found["week"].to_list() == ["2026-W10", "2026-W11"]
    assert found["exposure"].to_list() == ["start", "start"]
    assert found["amount"].to_list() == [300.0, 200.0]
    assert found["starts"].to_list() == [300, 200]
    assert found["count"].to_list() == [3, 1]
    assert found["certain"].to_list() == [3, 1]
    assert found["most"].to_list() == [2, 1]  # 50 and 51 lie in one hour
    assert found["observed_h"].to_list() == pytest.approx([37_000 / 3600, 25_000 / 3600], abs=1e-6)
    assert found["running_h"].sum() == pytest.approx(use_of(two, "running_h", "hoist").amount)
    assert found["lack"].to_list() == [None, None]


def test_the_spread_of_a_week_is_that_of_its_blocks(two: Review) -> None:
    first = of(weeks_of(two).counts).head(1)
    blocks = use_of(two, "start", "hoist").blocks.sort("block")
    uses = blocks["amount"].to_list()[:10]  # the hours of the first day
    assert sum(uses) == 300
    counts = [1, 2, *[0] * 8]  # runs 3, 50 and 51, 30 an hour
    assert spread_of(*(first[name].to_numpy() for name in ("count", "most", "variance"))) == pytest.approx(
        spread([(counts, uses)])
    )


def test_silent_patterns_have_a_row_and_those_that_could_not_be_assessed_say_so(two: Review) -> None:
    counts = weeks_of(two).counts
    silent = of(counts, "brake_release_late")
    assert silent["count"].to_list() == [0, 0]
    assert silent["lack"].null_count() == 2
    lacking = of(counts, "log_hole")
    assert lacking["lack"].str.contains("missing_signal").all()
    assert lacking.height == 2
    whole = counts.filter(pl.col("motion").is_null())
    assert not whole.is_empty()
    assert schema.WEEKS.check(counts) is counts


def test_the_week_is_the_local_one() -> None:
    begin = 6 * 86400 + 16.5 * 3600  # Sunday 22:30 UTC: in Sydney it is Monday
    logged = log_of(work(10, {3}, begin=begin), begin=begin)
    assert of(weeks_of(review_log(logged, M5)).counts)["week"].to_list() == ["2026-W10"]
    sydney = replace(logged, timezone="Australia/Sydney")
    assert of(weeks_of(review_log(sydney, M5)).counts)["week"].to_list() == ["2026-W11"]


def test_medians_of_measured_times(two: Review) -> None:
    times = weeks_of(two).times.filter(pl.col("time") == "release_time_s")
    assert times["week"].to_list() == ["2026-W10", "2026-W11"]
    assert times["n"].to_list() == [300, 200]
    assert times["median_s"].to_list() == pytest.approx([two.runs["release_time_s"].median()] * 2)
    assert times["step_s"].to_list() == [0.01, 0.01]


def test_parts_of_a_week_add_up() -> None:
    whole = log_of(work(90, {3, 50, 70}))
    halves = cut(whole, at(5400))  # on the border of two blocks
    together = gather(weeks_of(review_log(half, M5)) for half in halves)
    alone = weeks_of(review_log(whole, M5))
    key = ["pattern", "motion", "week", "amount", "count", "certain", "most", "starts"]
    assert of(together.counts).select(key).equals(of(alone.counts).select(key))
    assert gather([]).counts.is_empty()


def test_trends_of_reviews() -> None:
    reviews = [side(150, faults, n * WEEK) for n, faults in enumerate((1, 1, 2, 4, 7, 10))]
    found = trends(reviews)
    assert len(found.weeks) == 6
    row = found.rates.filter(pl.col("pattern") == "drop_out").row(0, named=True)
    assert (row["verdict"], row["count"], row["amount"]) == ("rising", 25, 900.0)
    assert found.machines == (M5.machine.id,)
    assert found.to_json() == trends(reviews).to_json()
