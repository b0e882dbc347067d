"""Guards exchanged parts: the fault went along, stayed, or cannot be told; places and what is no place."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import polars as pl
import pytest

import eventlens
from eventlens import EventlensError
from eventlens.comparison import moved
from eventlens.result import Review
from eventlens.wiring import review_log
from tests.comparison.stories import log_of, spaced, work
from tests.patterns.helpers import M5

LATER = 100_000.0
TWELVE = spaced(12, 120)


def both(raising: Collection[int], lowering: Collection[int], runs: int = 120, begin: float = 0.0) -> Review:
    """As many raises as lowers, taking turns; drop-outs at these numbers of each."""
    up = work(runs, raising, "raise", begin, 240.0)
    down = work(runs, lowering, "lower", begin + 120, 240.0)
    return review_log(log_of(up, down, begin=begin), M5)


@pytest.fixture(scope="module")
def raise_drops() -> Review:
    return both(TWELVE, ())


def told(before: Review, after: Review, pair: str = "hoist.raise:hoist.lower") -> dict[str, Any]:
    found = eventlens.compare_reviews(before, after, moved=[pair]).moved
    return found.row(by_predicate=pl.col("pattern") == "drop_out", named=True)


def test_the_fault_moved_with_the_part(raise_drops: Review) -> None:
    row = told(raise_drops, both((), TWELVE, begin=LATER))
    assert (row["verdict"], row["why"]) == ("moved_with_part", None)
    assert [row[f"{place}_{side}_count"] for place in ("first", "second") for side in ("before", "after")] == [
        12,
        0,
        0,
        12,
    ]
    assert row["first_before_exposure"] == row["second_after_exposure"] == 120
    assert row["p_stayed"] == pytest.approx(4 * 0.5**12)  # two tails, two comparisons: by hand
    assert row["p_moved"] == 1


def test_the_order_of_the_places_does_not_matter(raise_drops: Review) -> None:
    row = told(raise_drops, both((), TWELVE, begin=LATER), "hoist.lower.contactor:hoist.raise.contactor")
    assert (row["verdict"], row["first_before_count"], row["first_after_count"]) == ("moved_with_part", 0, 12)


def test_the_fault_stayed_with_the_place(raise_drops: Review) -> None:
    row = told(raise_drops, both(TWELVE, (), begin=LATER))
    assert (row["verdict"], row["p_stayed"]) == ("stayed_with_place", 1)


def test_with_little_use_it_cannot_be_told_and_says_when(raise_drops: Review) -> None:
    row = told(raise_drops, both({4}, (), runs=10, begin=LATER))
    assert (row["verdict"], row["why"]) == ("cannot_tell", moved.TOO_LITTLE)
    assert row["further_first"] == pytest.approx(row["further_days"] * 10)  # ten starts on the one day since
    # with that use and the rate before it can be told, whichever it is
    more = 10 + int(row["further_first"]) + 1
    faults = spaced(more // 10, more)
    assert told(raise_drops, both(faults, (), more, LATER))["verdict"] == "stayed_with_place"
    assert told(raise_drops, both((), faults, more, LATER))["verdict"] == "moved_with_part"


def test_gone_from_both_places_is_neither(raise_drops: Review) -> None:
    row = told(raise_drops, both((), (), begin=LATER))
    assert (row["verdict"], row["why"], row["further_days"]) == ("cannot_tell", moved.GONE, None)


def test_in_both_places_afterwards_is_neither(raise_drops: Review) -> None:
    row = told(raise_drops, both(TWELVE, spaced(12, 120, 5), begin=LATER))
    assert row["verdict"] != "moved_with_part"
    assert row["p_stayed"] < 0.05


def test_two_places_alike_can_never_be_told() -> None:
    before = both(TWELVE, TWELVE)
    row = told(before, both(TWELVE, TWELVE, begin=LATER))
    assert (row["verdict"], row["why"], row["further_days"]) == ("cannot_tell", moved.ALIKE, None)


def test_nothing_before_leaves_nothing_to_move(raise_drops: Review) -> None:
    found = eventlens.compare_reviews(both((), ()), raise_drops, moved=["hoist.raise:hoist.lower"])
    assert found.moved.is_empty()
    assert found.exchanges == ("hoist.raise:hoist.lower",)


@pytest.mark.parametrize(
    ("text", "motion", "way"),
    [
        ("hoist", "hoist", None),
        ("trolley.left", "trolley", "left"),
        (" hoist.fast ", "hoist", "fast"),
        ("bridge.reverse.contactor", "bridge", "reverse"),
        ("hoist.brake.released", "hoist", "brake"),
    ],
)
def test_places(text: str, motion: str, way: str | None) -> None:
    place = moved.place(text)
    assert (place.motion, place.way) == (motion, way)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("hoist.rise", "did you mean 'hoist.raise'"),
        ("hoist.left", "wanted a place"),
        ("overload.trip", "wanted a place"),
        ("hoist.raise.relay", "did you mean 'hoist.raise'"),
        ("", "wanted a place"),
    ],
)
def test_what_is_no_place(text: str, says: str) -> None:
    with pytest.raises(EventlensError, match=says):
        moved.place(text)


@pytest.mark.parametrize("text", ["hoist.raise", "a:b:c", "hoist.raise:", ":", "hoist.raise:hoist.raise.contactor"])
def test_what_is_no_exchange(text: str) -> None:
    with pytest.raises(EventlensError, match="wanted two"):
        moved.exchange(text)
