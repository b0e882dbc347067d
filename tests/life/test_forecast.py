"""Guards the forecast: the rate by hand, what it takes for granted, and how often its interval covers."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from eventlens.life.forecast import LEAST_WEEKS, Rate, daily_use, forecast

NOW = datetime(2026, 3, 9, tzinfo=UTC)


def days(*rows: tuple[int, float, float]) -> pl.DataFrame:
    return pl.DataFrame(
        list(rows), schema={"weekday": pl.Int64, "use": pl.Float64, "observed": pl.Float64}, orient="row"
    )


def test_a_whole_week_is_its_sum_over_seven_days() -> None:
    week = days(*((n, 2.0 + 0.1 * n, 1.0) for n in range(1, 6)), (6, 0.0, 1.0), (7, 0.0, 1.0))
    rate = daily_use(week)
    assert rate is not None
    assert rate.per_day == pytest.approx((5 * 2.0 + 1.5) / 7)
    assert rate.low is not None
    assert rate.high is not None
    assert rate.low < rate.per_day < rate.high


def test_days_that_were_seen_in_part_count_in_part() -> None:
    rate = daily_use(days((1, 1.0, 0.5), (2, 2.0, 1.0), (3, 2.0, 1.0)))
    assert rate is not None
    assert rate.per_day == pytest.approx(2.0)
    assert rate.days == pytest.approx(2.5)
    assert "no weekend" in rate.note


def test_working_days_stand_for_five_of_seven_however_many_were_seen() -> None:
    rate = daily_use(days((1, 3.0, 1.0), (6, 0.0, 1.0), (7, 0.0, 1.0)))
    assert rate is not None
    assert rate.per_day == pytest.approx(3.0 * 5 / 7)
    assert rate.low is None  # one working day gives no interval


def test_nothing_observed_gives_no_rate() -> None:
    assert daily_use(days()) is None
    assert daily_use(days((1, 0.0, 0.0))) is None
    assert forecast(10.0, None, NOW) is None


def test_dates_by_hand() -> None:
    found = forecast(10.0, Rate(0.5, 0.25, 1.0, 7.0, ""), NOW)
    assert found is not None
    assert (found.at, found.earliest, found.latest) == (
        NOW + timedelta(days=20),
        NOW + timedelta(days=10),
        NOW + timedelta(days=40),
    )
    over = forecast(-1.0, Rate(0.5, 0.25, 1.0, 7.0, ""), NOW)
    assert over is not None
    assert over.at == NOW
    idle = forecast(10.0, Rate(0.0, None, None, 7.0, ""), NOW)
    assert idle is not None
    assert idle.at is None


def test_the_same_days_give_the_same_interval() -> None:
    week = days(*((n, float(n), 1.0) for n in range(1, 8)))
    assert daily_use(week) == daily_use(week)


@pytest.mark.parametrize("weeks", [1, 2, 8])
def test_the_interval_covers_as_often_as_it_says(weeks: int) -> None:
    # machines whose working days vary about their own mean (gamma, 25 %): nominal 95 %, 300 machines
    rng, covered = np.random.default_rng(7), 0
    for _ in range(300):
        mean = rng.uniform(0.5, 5.0)
        use = rng.gamma(16, mean / 16, weeks * 5)
        rows = [(d, float(use[5 * w + d - 1]) if d < 6 else 0.0, 1.0) for w in range(weeks) for d in range(1, 8)]
        rate = daily_use(days(*rows))
        assert rate is not None
        assert rate.low is not None
        assert rate.high is not None
        covered += rate.low <= mean * 5 / 7 <= rate.high
    assert 0.90 <= covered / 300 <= 0.99


def weeks(uses: list[list[float]]) -> pl.DataFrame:
    """Whole weeks: five working days with a use, two others without."""
    return days(*((d, use[d - 1] if d < 6 else 0.0, 1.0) for use in uses for d in range(1, 8)))


@pytest.mark.parametrize(("number", "drawn"), [(1, "days"), (LEAST_WEEKS - 1, "days"), (LEAST_WEEKS, "weeks")])
def test_weeks_are_drawn_where_the_log_holds_enough(number: int, drawn: str) -> None:
    # eight whole weeks: common practice, no source
    rate = daily_use(weeks([[1.0 + w, 2.0, 3.0, 2.0, 1.0] for w in range(number)]))
    assert rate is not None
    assert (rate.drawn, rate.low is not None) == (drawn, True)
    assert LEAST_WEEKS == 8


def test_a_week_with_a_gap_is_none_of_the_whole_ones() -> None:
    whole = weeks([[1.0 + w, 2.0, 3.0, 2.0, 1.0] for w in range(LEAST_WEEKS)])
    cut = whole.with_columns(observed=pl.when(pl.int_range(pl.len()) == 8).then(0.5).otherwise(pl.col("observed")))
    found = daily_use(cut)
    assert found is not None
    assert found.drawn == "days"


def test_weeks_that_are_cut_count_in_part() -> None:
    # a log from a Thursday to a Tuesday: eight whole weeks between, the rate is that of all its days
    rows = weeks([[2.0] * 5 for _ in range(LEAST_WEEKS + 2)])[3 : 7 * (LEAST_WEEKS + 2) - 5]
    rate = daily_use(rows)
    assert rate is not None
    assert rate.drawn == "weeks"
    assert rate.per_day == pytest.approx(10 / 7)
    assert rate.low == pytest.approx(10 / 7)  # weeks that are all alike leave nothing open


def test_no_interval_no_draw() -> None:
    assert (one := daily_use(days((1, 3.0, 1.0)))) is not None
    assert (one.low, one.drawn) == (None, None)


def test_busy_weeks_have_busy_days_and_only_weeks_cover_that() -> None:
    # 300 machines whose weeks vary by 30 % about their mean and whose days follow their week: nominal 95 %. Twelve
    # weeks drawn as weeks cover; drawn day by day, as logs of seven weeks are, they promise too much
    rng = np.random.default_rng(11)

    def share_covered(number: int) -> float:
        covered = 0
        for _ in range(300):
            mean = rng.uniform(0.5, 5.0)
            level = rng.gamma(11, mean / 11, number)
            rate = daily_use(weeks([list(rng.gamma(16, each / 16, 5)) for each in level]))
            assert rate is not None
            assert rate.low is not None
            assert rate.high is not None
            covered += rate.low <= mean * 5 / 7 <= rate.high
        return covered / 300

    assert 0.90 <= share_covered(12) <= 0.99
    assert share_covered(LEAST_WEEKS - 1) < 0.90


def test_the_drawing_is_seeded() -> None:
    long = weeks([[1.0 + w, 2.0, 3.0, 2.0, 1.0] for w in range(12)])
    assert daily_use(long, seed=3) == daily_use(long, seed=3)
    assert daily_use(long, seed=3) != daily_use(long, seed=4)
