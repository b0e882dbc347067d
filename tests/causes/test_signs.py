"""The small tests behind the signs: exact tails against scipy, odds against sums by hand, both sides of each border."""

from __future__ import annotations

import math
import random

import pytest
from scipy.stats import binom

from eventlens.causes.signs import (
    ABSENT,
    CAP,
    Sign,
    change_factors,
    excess_factor,
    onset_factor,
    share_factor,
    tail,
    trend_factor,
)


@pytest.mark.parametrize(("hits", "tries", "share"), [(0, 5, 0.3), (1, 1, 0.5), (14, 14, 0.52), (27, 31, 0.04)])
def test_the_tail_is_the_exact_binomial_one(hits: int, tries: int, share: float) -> None:
    assert tail(hits, tries, share) == pytest.approx(float(binom.sf(hits - 1, tries, share)))  # scipy.stats.binom


def test_a_share_is_weighed_by_its_likelihoods() -> None:
    # by hand: (0.9 / 0.5)^3 (0.1 / 0.5)^1
    assert share_factor(3, 4, 0.5, 0.9) == pytest.approx(1.8**3 * 0.2)


def test_a_share_that_is_usual_anyway_says_nothing() -> None:
    assert share_factor(5, 5, 0.9, 0.9) == pytest.approx(1.0)


def test_one_contrary_case_does_not_end_it() -> None:
    assert share_factor(30, 31, 0.5, 1.0) > 1


def test_more_than_the_exposure_explains_speaks_for_it_and_less_against() -> None:
    assert excess_factor(27, 31, 0.04) > CAP
    assert excess_factor(3, 100, 0.04) < 1


def test_in_proportion_speaks_against_an_excess() -> None:
    assert excess_factor(20, 100, 0.2) < ABSENT


def test_an_excess_that_explains_almost_none_of_it_is_no_evidence() -> None:
    assert excess_factor(1, 1000, 0.000001) < 1


@pytest.mark.parametrize("exposure", [0.0, 1.0])
def test_where_all_or_nothing_is_exposed_it_says_nothing(exposure: float) -> None:
    assert excess_factor(3, 5, exposure) == 1.0


def test_the_best_of_many_parts_is_worth_less() -> None:
    assert excess_factor(5, 10, 0.2, among=10) == pytest.approx(excess_factor(5, 10, 0.2) / 10)


def test_a_sign_is_capped_both_ways() -> None:
    assert Sign("one_shift", 1e9, "").factor == CAP
    assert Sign("one_shift", 0.0, "").factor == 1 / CAP


def series(course: str, seed: int) -> tuple[list[float], list[float]]:
    """Thirty days of a release time [s] of 0.17 with a scatter of 0.004 and a course of its own."""
    rng = random.Random(seed)
    shapes = {
        "flat": lambda day: 0.0,
        "drift": lambda day: 0.12 * day / 29,
        "step": lambda day: 0.12 * (day >= 17),
        "down": lambda day: -0.08 * day / 29,
    }
    days = [float(day) for day in range(30)]
    return days, [0.17 + shapes[course](day) + rng.gauss(0, 0.004) for day in days]


@pytest.mark.parametrize(("course", "kind"), [("drift", "drift up"), ("step", "step up"), ("down", "drift down")])
@pytest.mark.parametrize("seed", range(10))
def test_drift_and_step_are_told_apart(course: str, kind: str, seed: int) -> None:
    found = change_factors(*series(course, seed), 0.03)
    assert found.pop(kind) > 10
    assert max(found.values()) < 1


@pytest.mark.parametrize("seed", range(10))
def test_a_flat_course_is_neither(seed: int) -> None:
    assert max(change_factors(*series("flat", seed), 0.03).values()) <= ABSENT


def test_a_change_too_small_to_matter_is_none() -> None:
    days, values = series("drift", 1)
    assert max(change_factors(days, values, 0.5).values()) <= ABSENT


def test_five_days_say_nothing() -> None:
    assert set(change_factors(*(part[:5] for part in series("step", 1)), 0.03).values()) == {1.0}


def test_a_rate_that_grows_speaks_for_growth_and_an_even_one_against() -> None:
    exposure = [100.0] * 12
    assert trend_factor([0, 0, 1, 0, 1, 2, 2, 3, 5, 6, 8, 11], exposure) > CAP
    assert trend_factor([3, 4, 3, 2, 4, 3, 3, 4, 2, 3, 4, 3], exposure) < ABSENT


def test_growth_is_judged_by_the_use() -> None:
    """As many more starts as events: the rate is even."""
    assert trend_factor([1, 2, 3, 4, 5, 6], [10.0, 20, 30, 40, 50, 60]) < 1


def test_a_beginning_is_found_with_its_day() -> None:
    factor, day = onset_factor([0, 0, 0, 0, 0, 4, 3, 5, 4], [50.0] * 9)
    assert factor > 10
    assert day == 5


def test_an_even_rate_has_no_beginning() -> None:
    assert onset_factor([4, 3, 5, 4, 4, 3, 5, 4, 4], [50.0] * 9)[0] <= ABSENT


def test_what_was_used_from_one_day_on_only_began_then_for_that_reason() -> None:
    """No use before: no beginning of the fault can be seen."""
    factor, _ = onset_factor([0, 0, 0, 0, 4, 3, 5, 4], [0.0, 0.0, 0.0, 0.0, 50, 50, 50, 50])
    assert math.isclose(factor, 1.0) or factor < 1.0
