"""Guards contactors: every figure of IEC 60947-4-1, a published table of mixed life, the category needed."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eventlens.causes.facts import load_knowledge
from eventlens.duty.groups import CONFIDENCES
from eventlens.errors import EventlensError
from eventlens.life.contactors import (
    CATEGORIES,
    COIL_LIMITS,
    LIFE_BY_CURRENT,
    OCCASIONAL,
    OPERATING_RATE_PER_H,
    life_factor,
    mixed_life,
    service_needed,
)
from eventlens.schema import DIRECTION, TIME
from tests.logs import at

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


def test_categories_of_contactors() -> None:
    # IEC 60947-4-1: current made and broken in the test of life, and what must be made and broken a few times, in rated
    # currents. AC-3 and AC-4: life from three places; capacity of AC-3 in two data sheets; the rest is from memory
    figures = {
        name: (
            (item.make, item.breaks, item.confidence),
            (item.making_capacity, item.breaking_capacity, item.capacity_confidence),
        )
        for name, item in CATEGORIES.items()
    }
    assert figures == {
        "AC-1": ((1, 1, "from memory"), (1.5, 1.5, "from memory")),
        "AC-2": ((2.5, 2.5, "from memory"), (4, 4, "from memory")),
        "AC-3": ((6, 1, "confirmed"), (10, 8, "confirmed")),
        "AC-4": ((6, 6, "confirmed"), (12, 10, "from memory")),
    }


def test_a_category_must_bear_more_than_it_wears_by() -> None:  # what a capacity is
    for item in CATEGORIES.values():
        assert item.making_capacity > item.make
        assert item.breaking_capacity > item.breaks
        assert {item.confidence, item.capacity_confidence} <= set(CONFIDENCES)


def test_limits_of_a_coil_and_the_operating_rate() -> None:
    # IEC 60947-4-1 from memory: 0.85 to 1.1; opens at 0.2 to 0.75 AC, 0.1 to 0.75 DC. One data sheet: 0.8 to 1.15, 0.2
    # to 0.75. A small contactor, in one place: 3600 cycles an hour
    standard, sheet = COIL_LIMITS
    assert (standard.pick_up, standard.drop_out_ac, standard.drop_out_dc) == ((0.85, 1.1), (0.2, 0.75), (0.1, 0.75))
    assert (sheet.pick_up, sheet.drop_out_ac, sheet.drop_out_dc) == ((0.8, 1.15), (0.2, 0.75), None)
    assert (standard.confidence, sheet.confidence) == ("from memory", "from one place")
    assert OPERATING_RATE_PER_H == (3600, "from one place")


def test_the_check_of_a_coil_is_held_against_these_limits() -> None:
    cause, (low, high) = load_knowledge().causes["contactor_coil"], COIL_LIMITS[0].pick_up
    assert f"from {100 * low:.0f} to {100 * high:.0f} % of rated voltage" in cause.source
    check = next(step for step in cause.checks if step.check == "control_voltage")
    assert f"at least {low:.2f} of the rated voltage" in check.positive


# One contactor guide: rated over actual current, and what the electrical life is multiplied by
@pytest.mark.parametrize(
    ("ratio", "factor"), [(1, 1), (1.5, 1.7), (2, 2.5), (2.5, 3.5), (3, 4.5), (4, 7), (5, 10), (8, 10), (1.75, 2.1)]
)
def test_life_by_current(ratio: float, factor: float) -> None:
    # 1.75 lies half way between 1.5 and 2: (1.7 + 2.5) / 2, by hand; beyond 5 the table ends
    assert life_factor(10.0 * ratio, 10.0) == pytest.approx(factor)


@given(st.floats(0.1, 100), st.floats(0.1, 100), st.floats(100, 1000))
def test_less_current_never_gives_less_life(one: float, other: float, rated: float) -> None:
    assert life_factor(rated, min(one, other)) >= life_factor(rated, max(one, other)) >= LIFE_BY_CURRENT[0][1]


@pytest.mark.parametrize("breaks", [0.0, 10.1])
def test_a_contactor_that_is_too_small_has_no_factor(breaks: float) -> None:
    assert life_factor(10.0, 10.0) == 1.0
    with pytest.raises(EventlensError, match="not above the rated one"):
        life_factor(10.0, breaks)


def severe(*seconds: float, direction: str = "raise") -> pl.DataFrame:
    return pl.DataFrame(
        {"start": [at(s) for s in seconds], "direction": [direction] * len(seconds)},
        schema={"start": TIME, "direction": DIRECTION},
    )


# IEC 60947-4-1, from memory: inching is occasional up to 5 operations a minute and 10 in ten minutes
@pytest.mark.parametrize(
    ("seconds", "category", "minute", "ten"),
    [
        ([], "AC-3", 0, 0),
        ([0, 10, 20, 30, 40], "AC-3", 5, 5),
        ([0, 10, 20, 30, 40, 50], "AC-4", 6, 6),
        ([0, 10, 20, 30, 40, 60], "AC-3", 5, 6),  # the first is a whole minute old at the last: outside
        ([60 * n for n in range(10)], "AC-3", 1, 10),
        ([59 * n for n in range(11)], "AC-4", 2, 11),
    ],
)
def test_the_category_that_a_use_needs(seconds: list[float], category: str, minute: int, ten: int) -> None:
    found = service_needed(severe(*seconds))
    assert (found.category, found.in_minute, found.in_ten_minutes) == (category, minute, ten)
    assert (OCCASIONAL, found.confidence) == (((60.0, 5), (600.0, 10)), "from memory")
    assert "IEC 60947-4-1" in found.source


def test_each_direction_has_its_own_contactor() -> None:
    both = pl.concat([severe(0, 10, 20), severe(5, 15, 25, direction="lower")])
    assert service_needed(both).category == "AC-3"
    assert service_needed(both).in_minute == 3
