"""Guards the timing diagram: what a column shows, where the axis counts from, and that it always fits its width."""

from __future__ import annotations

from datetime import timedelta

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens import schema
from eventlens.motion.states import build_states
from eventlens.report.timing import Grid, block, lane_of_states, lane_of_values
from tests.logs import at, make_log, pulse


def lane(spans: list[tuple[float, float]], grid: Grid, **options: float) -> str:
    log = make_log(pulse("hoist.raise.contactor", *spans), end=options.get("end", 100.0))
    states = build_states(log.events, log.segments, log.signals())
    return lane_of_states(states.known("hoist.raise.contactor"), grid)


def grid(column_s: float, count: int, begin: float = 0.0) -> Grid:
    first = (at(begin) - at(0)) // timedelta(microseconds=1) + round(at(0).timestamp() * 1e6)
    return Grid(first, round(column_s * 1e6), count, first)


def test_on_off_and_the_half_of_a_column() -> None:  # counted by hand
    assert lane([(2.0, 5.0)], grid(1.0, 8)) == "..###..."
    assert lane([(2.5, 5.0)], grid(1.0, 8)) == "..###..."  # half a column on counts as on
    assert lane([(2.6, 5.0)], grid(1.0, 8)) == "...##..."


def test_a_column_that_hides_two_changes_says_so() -> None:
    assert lane([(2.3, 2.6)], grid(1.0, 5)) == "..x.."
    assert lane([(2.3, 3.0)], grid(1.0, 5)) == "..#.."  # the second change lies on the border: in the next column


def test_unknown_is_drawn_as_unknown() -> None:
    assert lane([(2.0, 3.0)], grid(1.0, 8, begin=-2.0)) == "??..#..."
    assert lane([(2.0, 3.0)], grid(1.0, 8), end=5.0) == "..#..???"
    assert lane_of_states(schema.STATES.empty(), grid(1.0, 4)) == "????"


def test_measured_values_are_ninths_of_the_largest() -> None:
    values = pl.DataFrame({"time": [at(0), at(2), at(3.5)], "value": [0.0, 450.0, 900.0]}).with_columns(
        pl.col("time").cast(schema.TIME)
    )
    assert lane_of_values(values, grid(1.0, 6)) == ("004999", 900.0)  # 450 of 900 is 4.5 ninths, to the even one
    assert lane_of_values(values, grid(1.0, 3, begin=1.0)) == ("049", 900.0)
    assert lane_of_values(values.clear(), grid(1.0, 3)) == ("???", None)


def test_axis_counts_from_the_start_of_the_occurrence() -> None:
    around = Grid.around(at(10), at(12), 1.0, 60)
    lines = block([("signal", "#" * around.count), ("here", around.mark(at(10), at(12)))], around)
    assert lines[0].index("0") == lines[2].index("=")
    assert around.column == 100_000  # 4 s in at most 60 columns: 0.1 s
    assert lines[2].count("=") == 20


@given(
    length=st.floats(0, 3e7),
    pad=st.floats(0.1, 1e6),
    most=st.integers(20, 100),
)
def test_it_always_fits(length: float, pad: float, most: int) -> None:
    around = Grid.around(at(0), at(length), pad, most)
    begin, end = around.span
    assert around.count <= most
    assert begin <= at(0) - timedelta(seconds=pad) + timedelta(microseconds=1)
    assert end >= at(length)
    assert (around.zero - around.first) % around.column == 0
    assert around.mark(at(0), at(length)).count("=") >= 1
    assert len(around.mark(at(0), at(length))) <= around.count


@pytest.mark.parametrize(("seconds", "unit"), [(50, " s"), (600, " min"), (50_000, " h"), (9_000_000, " days")])
def test_unit_of_the_axis_suits_the_length(seconds: float, unit: str) -> None:
    assert unit in Grid.around(at(0), at(seconds), 1.0, 60).axis()
