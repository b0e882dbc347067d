"""Guards unusual periods: quiet on ordinary weeks, finds an hour of misuse, says when it cannot judge."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from eventlens.wiring import review_log
from tests.logs import Records, at, merged, run
from tests.patterns.helpers import M5, found, limits, logged, reviewed, why

NAME = "unusual_period"
HOUR = 3600.0


def work(
    hours: int,
    seed: int,
    *,
    odd: int | None = None,
    taps: int = 250,
    of_s: float = 0.4,
    usual: tuple[int, int] = (40, 60),
) -> Records:
    """Hours of `usual` runs of 3 to 12 s; in the odd one the button is pressed `taps` times, each for `of_s`."""
    rng = random.Random(seed)
    parts: list[Records] = []
    for hour in range(hours):
        count = taps if hour == odd else rng.randint(*usual)
        begin, each = hour * HOUR + 5, 3500.0 / count
        for n in range(count):
            length = of_s if hour == odd else rng.uniform(3.0, 12.0)
            parts.append(run(begin + n * each, begin + n * each + length, rng.choice(("raise", "lower"))))
    return merged(*parts)


@pytest.mark.parametrize("seed", range(6))
def test_ordinary_weeks_are_not_unusual(seed: int) -> None:
    review = reviewed(work(60, seed), end=60 * HOUR)
    assert found(NAME, review).is_empty()


def test_an_hour_of_tapping_is_and_it_says_what_is_unusual() -> None:
    review = reviewed(work(60, 1, odd=33), end=60 * HOUR)
    assert found(NAME, review).select("start", "end", "certainty").rows() == [
        (at(33 * HOUR), at(34 * HOUR), "possible")
    ]
    summary = next(text for text in review.findings["summary"] if "unusual" in text)
    assert "starts 250" in summary or "length of a run" in summary
    assert "not faulty" in summary


def test_a_lull_is_none() -> None:
    quiet = reviewed(work(60, 1, odd=33, taps=26, of_s=7.0, usual=(48, 52)), end=60 * HOUR)
    assert found(NAME, quiet).is_empty()


def test_longer_runs_than_usual_are() -> None:
    slow = reviewed(work(60, 1, odd=33, taps=50, of_s=35.0), end=60 * HOUR)
    assert found(NAME, slow).height == 1


def test_the_same_log_gives_the_same_answer() -> None:
    records = work(45, 3, odd=20)
    first, again = (found(NAME, reviewed(records, end=45 * HOUR)) for _ in range(2))
    assert first.equals(again)


@pytest.mark.parametrize(("hours", "short"), [(39, True), (40, False)])
def test_forty_hours_are_needed(hours: int, short: bool) -> None:
    reasons = why(NAME, reviewed(work(hours, 5), end=hours * HOUR))
    assert any(reason[1] == "too_little_log" for reason in reasons if reason[0] == "hoist") is short


def test_its_hours_are_those_of_the_clock_on_the_wall() -> None:
    """In a zone half an hour off, the hours begin at half past in UTC."""
    half = 0.5 * HOUR
    records = [(t + half, name, value) for t, name, value in work(61, 1, odd=33)]
    log = replace(logged(records, end=62 * HOUR), timezone="Asia/Kolkata")
    assert found(NAME, review_log(log, M5)).select("start", "end").rows() == [
        (at(33 * HOUR + half), at(34 * HOUR + half))
    ]


@pytest.mark.parametrize(("longest", "jogs"), [(0.5, True), (0.3, False)])
def test_what_a_jog_is_follows_the_machine(longest: float, jogs: bool) -> None:
    review = reviewed(work(60, 1, odd=33), end=60 * HOUR, machine=limits(jog_longest_s=longest))
    summary = next(text for text in review.findings["summary"] if "not faulty" in text)
    assert ("jogs 250 where 0" in summary) is jogs
