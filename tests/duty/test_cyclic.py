"""Guards the cyclic duration: the sliding curve against a look at every instant, and its crossings of a limit."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from itertools import pairwise

import duckdb
import polars as pl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from eventlens import schema
from eventlens.duty.cyclic import busiest, busiest_share, excess_windows, running_intervals, running_share
from eventlens.errors import EventlensError

S = 1_000_000  # microseconds in a second


def spans(*pairs: tuple[float, float]) -> pl.DataFrame:
    """Intervals from (start, end) in seconds after 1970."""
    return micro([(round(a * S), round(b * S)) for a, b in pairs])


def micro(pairs: Iterable[tuple[int, int]]) -> pl.DataFrame:
    frame = pl.DataFrame(list(pairs), schema={"start": pl.Int64, "end": pl.Int64}, orient="row")
    return frame.cast({pl.Int64: schema.TIME})


def us(times: pl.Series) -> list[int]:
    return times.to_physical().to_list()


def seconds(times: pl.Series) -> list[float]:
    return [t / S for t in us(times)]


def highest(intervals: pl.DataFrame, window_s: float = 600.0) -> float:
    peak = busiest_share(running_share(intervals, window_s))
    return peak.value if peak else 0.0


# Counted by hand


def test_curve_of_one_run() -> None:
    curve = running_share(spans((100, 250)))
    assert seconds(curve["time"]) == [100, 250, 700, 850]
    assert curve["share"].to_list() == [0, 0.25, 0.25, 0]
    peak = busiest_share(curve)
    assert peak is not None
    assert (peak.value, peak.at) == (0.25, datetime(1970, 1, 1, 0, 4, 10, tzinfo=UTC))


def test_two_runs_share_a_window() -> None:
    # 60 s and 60 s; the second ends 600 s after the first began, so one window holds both whole
    curve = running_share(spans((0, 60), (540, 600)))
    peak = busiest_share(curve)
    assert peak is not None
    assert (peak.value, peak.at) == (0.2, datetime(1970, 1, 1, 0, 10, tzinfo=UTC))


def test_two_runs_just_too_far_apart() -> None:
    # what the second brings in the first takes out: the window never holds more than 120 s - 1 s
    assert highest(spans((0, 60), (541, 601))) == 119 / 600


def test_a_run_longer_than_the_window_is_all_of_it() -> None:
    curve = running_share(spans((0, 700)))
    peak = busiest_share(curve)
    assert peak is not None
    assert (peak.value, peak.at) == (1.0, datetime(1970, 1, 1, 0, 10, tzinfo=UTC))


@pytest.mark.parametrize(("on", "cycle", "factor"), [(24, 60, 0.40), (15, 60, 0.25), (240, 600, 0.40), (90, 150, 0.60)])
def test_factor_of_equal_cycles_is_on_time_over_cycle(on: int, cycle: int, factor: float) -> None:
    # IEC 60034-1, S3: on-time over cycle; the ten minutes hold a whole number of these cycles
    assert highest(spans(*((k * cycle, k * cycle + on) for k in range(40)))) == factor


def test_time_with_both_directions_on_counts_once() -> None:
    both = spans((0, 60), (30, 90), (40, 50), (90, 120))
    assert us(running_intervals(both)["end"]) == [120 * S]
    assert highest(both) == 0.2


def test_intervals_without_length_do_not_count() -> None:
    assert running_share(spans((5, 5))).is_empty()


def test_nothing_ran() -> None:
    curve = running_share(spans())
    assert curve.schema == {"time": schema.TIME, "share": pl.Float64, "clock": pl.UInt32}
    assert busiest_share(curve) is None
    assert excess_windows(curve, 0.0).is_empty()


def test_windows_never_reach_over_a_clock_step() -> None:
    # the clock went back by 10 s after the first run; together they would make 0.4
    curve = running_share(spans((0, 120), (110, 230)), clock=pl.Series([0, 1]))
    assert curve.group_by("clock").agg(pl.col("share").max()).sort("clock").rows() == [(0, 0.2), (1, 0.2)]
    assert seconds(curve["time"]) == [0, 120, 600, 720, 110, 230, 710, 830]
    found = excess_windows(curve, 0.1)
    assert list(zip(seconds(found["start"]), seconds(found["end"]), found["clock"], strict=True)) == [
        (-540, 660, 0),
        (-430, 770, 1),
    ]


def test_excess_is_from_the_first_window_above_to_the_last() -> None:
    # one run of 300 s is above 0.4 once 240 s are in the window: from 240 s on, until 240 s are left, at 660 s
    found = excess_windows(running_share(spans((0, 300))), 0.4)
    assert seconds(found["start"]) == [240 - 600]
    assert seconds(found["end"]) == [660]
    assert found["peak"].to_list() == [0.5]


@pytest.mark.parametrize(("length", "stretches"), [(240 * S - 1, 0), (240 * S, 0), (240 * S + 1, 1)])
def test_exactly_the_limit_is_no_excess(length: int, stretches: int) -> None:
    assert excess_windows(running_share(micro([(0, length)])), 0.4).height == stretches


@pytest.mark.parametrize("limit", [0.15, 0.20, 0.25, 0.30, 0.40, 0.50, 0.60, 0.10])
def test_each_limit_of_the_groups_from_both_sides(limit: float) -> None:
    length = round(limit * 600) * S
    assert excess_windows(running_share(micro([(0, length)])), limit).is_empty()
    found = excess_windows(running_share(micro([(0, length + 1)])), limit)
    assert found.height == 1
    assert found["peak"][0] > limit


def test_no_share_is_above_one() -> None:
    assert excess_windows(running_share(spans((0, 5000))), 1.0).is_empty()
    assert excess_windows(running_share(spans((0, 5000))), float("inf")).is_empty()
    assert excess_windows(running_share(spans((0, 5000))), 0.999).height == 1


@pytest.mark.parametrize(("later", "stretches"), [(1019, 1), (1020, 1), (1021, 2)])
def test_windows_that_touch_are_one_stretch(later: float, stretches: int) -> None:
    # 120 s runs, limit 0.1: the first excess ends at 660 s; the second begins 60 s after its start, its first window
    # 600 s before that, so they touch where the second run starts at 660 + 600 - 60 = 1200 s
    found = excess_windows(running_share(spans((0, 120), (later + 180, later + 300))), 0.1)
    assert found.height == stretches


@pytest.mark.parametrize("limit", [-0.1, float("nan")])
def test_impossible_limits_are_refused(limit: float) -> None:
    with pytest.raises(EventlensError, match="a limit not below 0"):
        excess_windows(running_share(spans((0, 1))), limit)


def test_an_interval_that_ends_before_it_starts_is_refused() -> None:
    with pytest.raises(schema.SchemaError, match="each end not before its start"):
        running_share(spans((5, 4)))


def test_the_callers_frame_stays_as_it_was() -> None:
    given_frame = spans((30, 90), (0, 60))
    before = given_frame.clone()
    running_share(given_frame)
    assert_frame_equal(given_frame, before)


# Slow oracles: small whole microseconds, every instant looked at

unhurried = settings(deadline=None)
"""The first draw loads what it uses, and that takes longer than a draw may."""

few = st.lists(st.tuples(st.integers(0, 50), st.integers(0, 12), st.integers(0, 1)), max_size=12)
windows = st.integers(1, 30)
Drawn = list[tuple[int, int, int]]


def build(drawn: Drawn) -> tuple[pl.DataFrame, pl.Series]:
    clock = pl.Series([label for _, _, label in drawn], dtype=pl.Int64)
    return micro((start, start + length) for start, length, _ in drawn), clock


def running_at(drawn: Drawn, label: int, window: int, t: int) -> int:
    """Running microseconds in (t - window, t]: the unit steps of time that any interval covers."""
    covered = {x for start, length, owner in drawn if owner == label for x in range(start, start + length)}
    return len(covered & set(range(t - window, t)))


@unhurried
@given(few, windows)
def test_curve_agrees_with_every_instant(drawn: Drawn, window: int) -> None:
    intervals, clock = build(drawn)
    curve = running_share(intervals, window / 1e6, clock)
    for label in (0, 1):
        own = curve.filter(pl.col("clock") == label)
        points = list(zip(us(own["time"]), own["share"], strict=True))
        assert [t for t, _ in points] == sorted({t for t, _ in points})
        between: dict[int, float] = dict(points)
        for (t0, s0), (t1, s1) in pairwise(points):
            between |= {t: s0 + (s1 - s0) * (t - t0) / (t1 - t0) for t in range(t0, t1)}
        for t in range(-5, 100):
            assert between.get(t, 0.0) == pytest.approx(running_at(drawn, label, window, t) / window, abs=1e-12)


@unhurried
@given(few, windows)
@example([(7, 1, 0), (9, 2, 0)], 3)  # the window begins just where an interval ends, and was as full one step before
def test_peak_is_the_highest_of_every_instant_and_the_first(drawn: Drawn, window: int) -> None:
    intervals, clock = build(drawn)
    peak = busiest_share(running_share(intervals, window / 1e6, clock))
    assert busiest(intervals, window / 1e6, clock) == peak  # found without the curve
    brute = [(running_at(drawn, label, window, t), -label, -t) for label in (0, 1) for t in range(100)]
    best, _, t = max(brute)
    if best == 0:
        assert peak is None
    else:
        assert peak is not None
        assert peak.value == best / window
        assert peak.at.microsecond == -t


@unhurried
@given(few, windows, st.integers(0, 12))
def test_excess_covers_exactly_the_windows_above_the_limit(drawn: Drawn, window: int, most: int) -> None:
    intervals, clock = build(drawn)
    found = excess_windows(running_share(intervals, window / 1e6, clock), min(most / window, 1.0), window / 1e6)
    bounds = list(zip(us(found["start"]), us(found["end"]), found["clock"], found["peak"], strict=True))
    covered = {(label, x) for start, end, label, _ in bounds for x in range(start, end)}
    expected: set[tuple[int, int]] = set()
    for label in (0, 1):
        curve = [running_at(drawn, label, window, t) for t in range(101)]
        for t in range(100):
            # the curve moves by one or stands still, so a whole step is above the limit when either of its ends is
            if max(curve[t], curve[t + 1]) > most:
                expected |= {(label, x) for x in range(t - window, t + 1)}
        peaks = [peak for _, _, owner, peak in bounds if owner == label]
        assert max(peaks, default=0.0) == (max(curve) / window if max(curve) > most else 0.0)
    assert covered == expected
    assert all(a[2] != b[2] or a[1] < b[0] for a, b in pairwise(bounds))


# Properties at the scale of real logs

shift = st.lists(st.tuples(st.integers(1, 90_000), st.integers(50, 60_000)), min_size=1, max_size=60)


def unrolled(pauses_and_runs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Intervals [us] from pauses and runs in milliseconds."""
    intervals, now = [], 0
    for pause, run in pauses_and_runs:
        intervals.append((now + pause * 1000, now + (pause + run) * 1000))
        now = intervals[-1][1]
    return intervals


@unhurried
@given(shift)
def test_no_window_of_a_fine_grid_exceeds_the_reported_factor(drawn: list[tuple[int, int]]) -> None:
    intervals = unrolled(drawn)
    window = 600 * S

    def running(t: int) -> int:
        return sum(max(0, min(end, t) - max(start, t - window)) for start, end in intervals)

    peak = busiest_share(running_share(micro(intervals)))
    assert peak is not None
    last = intervals[-1][1] + window
    grid = [running(t) for t in range(0, last, max(last // 500, 1))]
    corners = [running(t) for a, b in intervals for t in (a, b, a + window, b + window)]
    assert max(grid) / window <= peak.value
    assert max(corners) / window == peak.value
    assert running(round(peak.at.timestamp() * S)) / window == peak.value


@unhurried
@given(shift, st.data())
def test_adding_rest_never_raises_the_factor(drawn: list[tuple[int, int]], data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(drawn) - 1))
    rest = data.draw(st.integers(0, 900_000))
    rested = [(pause + rest * (k == place), run) for k, (pause, run) in enumerate(drawn)]
    assert highest(micro(unrolled(rested))) <= highest(micro(unrolled(drawn)))


@unhurried
@given(shift, st.integers(-(10**15), 10**15))
def test_a_later_log_gives_the_same_later(drawn: list[tuple[int, int]], later: int) -> None:
    intervals = unrolled(drawn)
    curve = running_share(micro(intervals))
    moved = running_share(micro((a + later, b + later) for a, b in intervals))
    assert_frame_equal(moved.with_columns(pl.col("time") - pl.duration(microseconds=later)), curve)


@unhurried
@given(few)
def test_running_time_agrees_with_a_database(drawn: Drawn) -> None:
    intervals, clock = build(drawn)
    united = running_intervals(intervals, clock)
    rows = [(label, start, start + length) for start, length, label in drawn] or [(0, 0, 0)]
    with duckdb.connect() as database:
        database.execute("CREATE TABLE spans (clock INTEGER, a BIGINT, b BIGINT)")
        database.executemany("INSERT INTO spans VALUES (?, ?, ?)", rows)
        # gaps and islands: an island begins where a span starts after the latest end before it
        (total,) = database.execute(
            """WITH marked AS (SELECT *, max(b) OVER w AS latest FROM spans
                   WINDOW w AS (PARTITION BY clock ORDER BY a, b ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)),
               islands AS (SELECT *, sum(CASE WHEN a <= latest THEN 0 ELSE 1 END)
                   OVER (PARTITION BY clock ORDER BY a, b) AS island FROM marked)
               SELECT sum(length) FROM (SELECT max(b) - min(a) AS length FROM islands GROUP BY clock, island)"""
        ).fetchall()[0]
    assert (united["end"] - united["start"]).dt.total_microseconds().sum() == total
