"""Life against simulated machines in a small form, three machine-weeks; the whole comes from `life.py`."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.benchmarks.life import MACHINES, Week, covered, exact_limits, summary, week


@pytest.fixture(scope="module")
def weeks() -> list[Week]:
    return [week(seed) for seed in range(1000, 1000 + len(MACHINES))]


def test_hours_of_full_load_are_those_of_the_hidden_machine(weeks: list[Week]) -> None:
    for one in weeks:
        assert one.true_h > 0.1
        assert one.found_h == pytest.approx(one.true_h, rel=0.01)  # the project's own aim


def test_a_week_gives_an_interval_around_its_own_rate(weeks: list[Week]) -> None:
    for one in weeks:
        assert one.low is not None
        assert one.high is not None
        assert one.low < one.found_h / 7 < one.high


def test_how_covering_is_counted(weeks: list[Week]) -> None:
    # 14 h in the other week of the machine are 2 a day, so that 20 h last ten days
    plain = replace(weeks[0], machine=0, true_h=14.0, remaining_h=20.0)
    bounds = [(9.9, 10.1), (10.1, 12.0), (5.0, 9.9), (None, None), (9.0, None)]
    some = [replace(plain, earliest_days=early, latest_days=late) for early, late in bounds]
    assert covered(some) == [True, False, False, False, True]
    assert "2 of 5 intervals hold the true date" in "\n".join(summary(some))


def test_exact_limits() -> None:  # none and all of n: 1 - 0.025^(1/n), by hand
    assert exact_limits(0, 10) == (0.0, pytest.approx(1 - 0.025**0.1))
    assert exact_limits(10, 10) == (pytest.approx(0.025**0.1), 1.0)
