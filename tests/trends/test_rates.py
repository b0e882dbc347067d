"""Guards rates over the weeks: what rises, what is uneven, what cannot be judged, and how many were compared."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from eventlens import EventlensError
from eventlens.statistics.rates import poisson_limits
from eventlens.statistics.two_rates import compare_rates, smallest_change, smallest_rise
from eventlens.trends import Trends, tables, trends_of
from eventlens.trends.rates import RECENT
from tests.trends.tables import counted, together


def row(found: Trends, **picked: str) -> dict[str, object]:
    frame = found.rates
    for name, value in picked.items():
        frame = frame.filter(pl.col(name).cast(pl.String) == value)
    assert frame.height == 1
    return frame.row(0, named=True)


@pytest.mark.parametrize(
    ("counts", "verdict"),
    [
        ([2, 3, 2, 4, 6, 8, 9, 12, 15, 18], "rising"),
        ([18, 15, 12, 9, 8, 6, 4, 2, 3, 2], "falling"),
        ([4, 5, 3, 4, 30, 30, 5, 3, 4, 4], "uneven"),
        ([4, 5, 3, 4, 6, 4, 5, 3, 4, 4], "not_shown"),
        ([4, 50, 90], "too_little"),
    ],
)
def test_each_verdict(counts: list[int], verdict: str) -> None:
    assert row(trends_of(counted("A", counts)))["verdict"] == verdict


def test_rate_limits_and_the_last_weeks_against_those_before() -> None:
    found = row(trends_of(counted("A", [4, 5, 3, 4, 6, 14, 15, 13, 14, 9])))
    assert (found["count"], found["amount"], found["weeks"]) == (87, 10_000.0, 10)
    low, high = poisson_limits(87)
    assert (found["rate_low"], found["rate_high"]) == (pytest.approx(low / 1e4), pytest.approx(high / 1e4))
    assert found["always_low"] < found["rate_low"] < found["rate_high"] < found["always_high"]
    assert (found["past_count"], found["recent_count"]) == (36, 51)
    assert RECENT == 4
    held = compare_rates(36, 6000.0, 51, 4000.0)
    assert (found["ratio"], found["ratio_low"], found["ratio_high"]) == (held.value, held.low, held.high)
    assert found["smallest_rise"] == smallest_rise(36, 6000.0, 4000.0)
    assert found["smallest_fall"] == smallest_change(36, 6000.0, 4000.0)


def test_twice_the_use_is_no_trend() -> None:
    found = trends_of(counted("A", [5] * 5 + [10] * 5, uses=[500.0] * 5 + [1000.0] * 5))
    assert row(found)["verdict"] == "not_shown"
    assert row(found)["u"] == pytest.approx(0.0, abs=1e-9)


def test_bursts_are_no_trend() -> None:
    counts = [4, 5, 3, 24, 30, 30, 5, 3, 4, 24]
    alone, bursts = counted("A", counts), counted("A", counts, most=24, variance=150.0)
    assert row(trends_of(alone))["verdict"] == "uneven"
    found = row(trends_of(bursts))
    assert found["spread"] == pytest.approx(1500 / 132)
    assert found["verdict"] == "not_shown"


def test_weeks_that_lacked_something_else_are_not_held_against_the_last() -> None:
    blind = counted("A", [0, 0, 0, 0, 0], lack="missing_signal: hoist.brake.released")
    seen = counted("A", [9, 8, 9, 10, 9], first=5)
    found = trends_of(together(blind, seen))
    assert (row(found)["weeks"], row(found)["verdict"]) == (5, "not_shown")
    assert found.weekly["judged"].to_list() == [False] * 5 + [True] * 5
    assert found.weekly["chart_high"].null_count() == 5
    short = counted("A", [0, 0, 0, 0, 0], first=5, lack="too_little_log: 3600 s of log")
    found = trends_of(together(counted("A", [9, 8, 9, 10, 9]), short))  # a week that has just begun voids no other
    assert (row(found)["weeks"], row(found)["verdict"]) == (5, "not_shown")
    assert row(trends_of(together(counted("A", [9, 8, 9]), short)))["verdict"] == "too_little"


def test_weeks_that_count_against_different_things_count_against_starts() -> None:
    lifts = counted("A", [5, 5, 5, 5], uses=100.0, exposure="lift", starts=900)
    starts = counted("A", [5, 5, 5, 5], uses=900.0, first=4)
    found = row(trends_of(together(lifts, starts)))
    assert (found["exposure"], found["amount"]) == ("start", 7200.0)
    assert found["verdict"] == "not_shown"


def test_only_what_occurred_is_compared_and_all_of_it_is_adjusted_together() -> None:
    rising = [1, 1, 2, 2, 3, 3, 5, 5]
    alone = trends_of(counted("A", rising))
    assert (alone.comparisons, row(alone)["p_adjusted"]) == (1, row(alone)["p"])
    steady = [counted("A", [5, 5, 4, 5, 6, 5, 5, 5], pattern=name) for name in ("jogging", "no_start", "chatter")]
    silent = counted("A", [0] * 8, pattern="welded")
    found = trends_of(together(counted("A", rising), *steady, silent))
    assert found.comparisons == 4
    assert row(found, pattern="drop_out")["p_adjusted"] == pytest.approx(4 * row(found, pattern="drop_out")["p"])
    assert "welded" not in found.rates["pattern"].to_list()


def test_stable_fleets_are_called_changed_no_oftener_than_stated() -> None:
    rng = np.random.default_rng(41)
    fleets = 60
    wrong = signals = weeks = 0
    for _ in range(fleets):
        parts = [
            counted(name, rng.poisson(mean, 10).tolist(), pattern=pattern)
            for name in ("A", "B")
            for pattern, mean in (("drop_out", 0.5), ("jogging", 4.0), ("no_start", 40.0))
        ]
        found = trends_of(together(*parts))
        wrong += bool((~found.rates["verdict"].cast(pl.String).is_in(["not_shown", "too_little"])).any())
        signals += int(found.weekly["beyond"].abs().sum())
        weeks += found.weekly.height
    assert wrong / fleets <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / fleets)
    assert signals / weeks <= found.false_alarm + 3 * np.sqrt(found.false_alarm / weeks)


def test_weekly_rates_per_hour_and_per_hundred_lifts() -> None:
    found = trends_of(counted("A", [4, 0, 2, 1])).weekly
    low, high = poisson_limits(4)
    first = found.row(0, named=True)
    assert first["rate"] == 0.004
    for base, use in (("observed_h", 40.0), ("running_h", 5.0), ("lifts", 2.0)):
        got = [first[f"{base}_{end}"] for end in ("rate", "low", "high")]
        assert got == pytest.approx([4 / use, low / use, high / use])
    unknown = trends_of(counted("A", [4, 0, 2, 1], lifts=None)).weekly
    assert unknown["lifts_rate"].null_count() == 4
    assert tables.TREND_WEEKS.check(unknown) is unknown


def test_what_is_not_certain_asks_for_watching() -> None:
    assert row(trends_of(counted("A", [5] * 5)))["severity"] == "repair"
    assert row(trends_of(counted("A", [5] * 5, certain=0)))["severity"] == "watch"


def test_no_week_and_no_confidence_are_said_in_a_sentence() -> None:
    with pytest.raises(EventlensError, match="one week"):
        trends_of(counted("A", []))
    with pytest.raises(EventlensError, match="confidence between"):
        trends_of(counted("A", [1]), confidence=1.0)


def test_missing_weeks_are_said() -> None:
    found = trends_of(together(counted("A", [1, 2]), counted("B", [3], first=7)))
    assert any(note.startswith("5 weeks between") for note in found.notes)  # of 2025-W51 to 2026-W06, over W52 and W01
    assert any("A, B" in note for note in found.notes)
    assert found.weeks == ("2025-W51", "2025-W52", "2026-W06")
