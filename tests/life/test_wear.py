"""Guards wear: a published contactor table, what counts as which start, and that raw starts stay raw."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens.errors import EventlensError
from eventlens.life.wear import CATEGORIES, StartWeights, full_paths, mixed_life, operations
from eventlens.motion.kinds import is_jog
from tests.logs import merged, run
from tests.patterns.helpers import reviewed

# A contactor maker's table, millions of operations: share of AC-4, sintered tips, copper tips
TABLE = [
    (0.0, 1.2, 1.0),
    (0.05, 0.4, 0.2),
    (0.10, 0.25, 0.1),
    (0.20, 0.14, 0.05),
    (0.40, 0.07, 0.03),
    (0.60, 0.05, 0.02),
    (0.80, 0.04, 0.015),
    (1.00, 0.03, 0.01),
]


@pytest.mark.parametrize(("share", "sintered", "copper"), TABLE)
def test_mixed_life_agrees_with_a_published_table(share: float, sintered: float, copper: float) -> None:
    # the sintered column within 8 %, the copper one within the rounding of its single figure, about 20 %
    assert mixed_life(1.2, 0.03, share) == pytest.approx(sintered, rel=0.08)
    assert mixed_life(1.0, 0.01, share) == pytest.approx(copper, rel=0.20)


@given(st.floats(1e4, 1e7), st.floats(1e3, 1e7), st.floats(0, 1))
def test_mixed_life_is_linear_damage(ac3: float, ac4: float, share: float) -> None:
    assert 1 / mixed_life(ac3, ac4, share) == pytest.approx((1 - share) / ac3 + share / ac4)


def test_what_cannot_be_a_life() -> None:
    with pytest.raises(EventlensError, match="share from 0 to 1"):
        mixed_life(1e6, 1e4, 1.5)


def test_starts_by_kind() -> None:
    # a full run, two jogs, a full run the other way after 0.1 s (plugging), one after 5 s. Counted by hand
    review = reviewed(
        merged(run(10, 15), run(20, 20.4), run(22, 22.5), run(30, 34), run(34.1, 37, "lower"), run(42, 45)), end=60.0
    )
    done = operations(review.runs, is_jog(1.0), StartWeights())
    assert (done.starts, done.jogs, done.plug_stops, done.plug_reversals, done.brake_stops) == (6, 2, 0, 1, 6)
    assert done.equivalent == pytest.approx(3 + 0.25 * 2 + 1.8)  # one motor guide
    assert done.ac4_share == pytest.approx(0.5)


def test_a_touch_of_the_other_direction_stops_the_motor() -> None:
    # a full run, then 0.2 s the other way after 0.1 s: electric braking, 0.8 starts (two motor guides)
    done = operations(reviewed(merged(run(10, 15), run(15.1, 15.3, "lower"))).runs, is_jog(1.0), StartWeights())
    assert (done.starts, done.jogs, done.plug_stops, done.plug_reversals) == (2, 0, 1, 0)
    assert done.equivalent == pytest.approx(1.8)
    assert done.ac4_share == pytest.approx(0.5)


def test_categories_of_contactors() -> None:  # IEC 60947-4-1; AC-3 and AC-4 from three places
    figures = {name: (item.make, item.breaks, item.confidence) for name, item in CATEGORIES.items()}
    assert figures == {
        "AC-1": (1, 1, "from memory"),
        "AC-2": (2.5, 2.5, "from memory"),
        "AC-3": (6, 1, "confirmed"),
        "AC-4": (6, 6, "confirmed"),
    }


def test_no_runs_no_wear() -> None:
    review = reviewed([], end=60.0)
    done = operations(review.runs, is_jog(1.0), StartWeights())
    assert (done.starts, done.equivalent, done.ac4_share) == (0, 0.0, 0.0)


def heights(values: list[float | None], segment: int = 0) -> pl.DataFrame:
    frame = pl.DataFrame({"value": values}, schema={"value": pl.Float64})
    return frame.with_columns(segment=pl.lit(segment, pl.UInt32))


def test_full_paths_of_the_hook() -> None:
    # up 4 m, down 4 m, up 2 m: 10 m of way on a path of 5 m is one full path up and down
    assert full_paths(heights([0.0, 4.0, None, 0.0, 2.0]), 5.0) == pytest.approx(1.0)
    with pytest.raises(EventlensError, match="hook path"):
        full_paths(heights([0.0]), 0.0)


def test_the_way_in_a_hole_is_not_known() -> None:
    assert full_paths(pl.concat([heights([0.0, 4.0]), heights([0.0, 4.0], segment=1)]), 5.0) == pytest.approx(0.8)
