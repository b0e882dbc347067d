"""A complaint that began after work on the machine: what is known of it, and what is not.

Logs are 100 ordinary runs, 30 s apart, the first at 100 s; expected numbers are counted by hand.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from eventlens.causes.complaints import complaints_of
from eventlens.causes.evidence import signs_of
from eventlens.causes.signs import ABSENT, Sign
from eventlens.result import Review, Statement
from tests.causes.stories import dropped, of, work

RUNS = 100
HALF = 1600.0
"""50 of the ordinary runs begin before [s]."""


def lost(*places: int) -> Review:
    """Drop-outs between the ordinary runs: each after the run with this number."""
    return of([*work(RUNS), *(dropped(112.0 + 30 * place) for place in places)])


def sign(review: Review, *works: float, kind: str = "repair") -> Sign | None:
    """What is known of after_work; works: seconds of the log at which work was done, its first run begins at 100."""
    first = review.runs["start"].min()
    assert isinstance(first, datetime)
    told = tuple(Statement(first + timedelta(seconds=at - 100.0), kind, "new relay", "") for at in works)
    complaints = complaints_of(replace(review, history=told).subject)
    return signs_of(next(one for one in complaints if one.key == "losses hoist")).get("after_work")


def test_losses_only_after_a_repair_began_after_it() -> None:
    found = sign(lost(60, 70, 80, 90), HALF)
    assert found is not None
    # 54 of 104 runs after: chance alone gives all four with (54/104)^4 = 0.0727
    assert found.p == pytest.approx((54 / 104) ** 4)
    assert found.factor > 5
    assert found.text.startswith("4 of 4 after the work")
    assert found.text.endswith("54 of 104 runs after it")
    assert found.rows


def test_losses_on_both_sides_did_not_begin_after_it() -> None:
    found = sign(lost(10, 20, 60, 70), HALF)
    assert found is not None
    assert found.factor == ABSENT


def test_an_exchanged_part_is_work_and_a_note_is_none() -> None:
    review = lost(60, 70, 80, 90)
    assert sign(review, HALF, kind="exchanged") is not None
    assert sign(review, HALF, kind="note") is None


def test_without_work_it_is_unknown() -> None:
    assert sign(lost(60, 70, 80, 90)) is None


def test_two_losses_are_held_against_no_work() -> None:
    assert sign(lost(60, 70), HALF) is None
    assert sign(lost(60, 70, 80), HALF) is not None


def test_too_little_before_the_work_is_unknown() -> None:
    """Four losses among 104 runs: 26 runs before the work would hold one at a steady rate, 25 would not."""
    review = lost(60, 70, 80, 90)
    assert sign(review, 100.0 + 25 * 30 - 10) is None
    assert sign(review, 100.0 + 26 * 30 - 10) is not None


def test_work_before_the_log_or_after_it_says_nothing() -> None:
    assert sign(lost(60, 70, 80, 90), 0.0) is None
    assert sign(lost(60, 70, 80, 90), 9000.0) is None


def test_of_two_works_the_better_counts_half() -> None:
    alone, both = (sign(lost(60, 70, 80, 90), *works) for works in ((HALF,), (1000.0, HALF)))
    assert alone is not None
    assert both is not None
    assert both.factor == pytest.approx(alone.factor / 2)
