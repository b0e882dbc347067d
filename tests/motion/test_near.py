"""Guards how intervals are brought together: against plain loops over all pairs."""

from __future__ import annotations

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens import schema
from eventlens.motion.near import crossing

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
