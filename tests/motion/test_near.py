"""Guards how intervals are brought together: against plain loops over all pairs."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens import schema
from eventlens.motion.near import around, crossing, following, latest, merged, time_on

lengths = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 4)), max_size=8)
"""Gap before each interval and its length; both may be none."""


def frame(drawn: list[tuple[int, int]]) -> pl.DataFrame:
    """Disjoint intervals in order, at whole microseconds."""
    now, rows = 0, []
    for gap, length in drawn:
        rows.append((now + gap, now + gap + length))
        now += gap + length
    return pl.DataFrame(rows, schema={"start": pl.Int64, "end": pl.Int64}, orient="row").cast(schema.TIME)


@settings(max_examples=200, deadline=None)
@given(lengths, lengths)
def test_pairs_that_cross_are_all_that_have_time_in_common(
    one: list[tuple[int, int]], other: list[tuple[int, int]]
) -> None:
    spans, intervals = frame(one), frame(other)
    expected = [
        (i, j)
        for i, (a, b) in enumerate(spans.rows())
        for j, (c, d) in enumerate(intervals.rows())
        if max(a, c) < min(b, d)
    ]
    assert list(zip(*(places.to_list() for places in crossing(spans, intervals)), strict=True)) == expected


def cut(drawn: list[tuple[int, int]], segments: list[int]) -> pl.DataFrame:
    """The intervals of `frame`, each in the segment that its start lies in; segments: where each begins."""
    intervals = frame(drawn)
    number = [sum(begin <= row for begin in segments) for row in intervals["start"].to_physical()]
    return intervals.with_columns(segment=pl.Series(number, dtype=pl.UInt32))


@settings(max_examples=200, deadline=None)
@given(lengths, lengths, st.lists(st.integers(0, 20), max_size=2))
def test_each_row_gets_the_interval_that_began_last_and_the_next_to_begin_in_its_segment(
    rows: list[tuple[int, int]], drawn: list[tuple[int, int]], segments: list[int]
) -> None:
    asking, intervals = cut(rows, segments), cut(drawn, segments)
    starts = [(start, segment) for start, _, segment in intervals.rows()]
    before, after = [], []
    for at, _, segment in asking.rows():
        last = [one for one in starts if one[0] <= at][-1:]
        after_it = [one for one in starts if one[0] > at][:1]
        before.append(next((start for start, of in last if of == segment), None))
        after.append(next((start for start, of in after_it if of == segment), None))
    found = around(asking, pl.col("start"), intervals, "last", "next", ("start",))
    assert found["last_start"].to_list() == before
    assert found["next_start"].to_list() == after
    assert latest(asking, pl.col("start"), intervals, "last", ("start",))["last_start"].to_list() == before
    assert following(asking, pl.col("start"), intervals, "next", ("start",))["next_start"].to_list() == after


def test_instants_that_do_not_rise_are_refused() -> None:
    with pytest.raises(ValueError, match="sorted"):
        latest(cut([(1, 1), (3, 1)], []).reverse(), pl.col("start"), cut([(0, 1)], []), "last", ("start",))


@settings(max_examples=200, deadline=None)
@given(lengths, st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), max_size=5))
def test_time_on_is_counted_instant_by_instant(drawn: list[tuple[int, int]], asked: list[tuple[int, int]]) -> None:
    """Instants in any order."""
    intervals = frame(drawn)
    on = {at for a, b in intervals.select(pl.all().to_physical()).rows() for at in range(a, b)}
    spans = [(min(span), max(span)) for span in asked]
    begin, until = (pl.Series([span[side] for span in spans], dtype=pl.Int64).cast(schema.TIME) for side in (0, 1))
    expected = [round(sum(a <= at < b for at in on) / 1e6, 6) for a, b in spans]
    assert time_on(intervals, begin, until).to_list() == expected


@settings(max_examples=200, deadline=None)
@given(st.lists(st.integers(0, 9), max_size=8), st.lists(st.integers(0, 9), max_size=8), st.booleans())
def test_what_is_merged_is_what_a_search_finds(keys: list[int], at: list[int], rising: bool) -> None:
    keys, at = sorted(keys), sorted(at) if rising else at
    where = (pl.Series(keys, dtype=pl.Int64), pl.Series(at, dtype=pl.Int64))
    assert merged(*where, "right").tolist() == [sum(key <= one for key in keys) for one in at]
    assert merged(*where, "left").tolist() == [sum(key < one for key in keys) for one in at]
