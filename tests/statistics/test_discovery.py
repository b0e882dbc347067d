"""Guards the adjustment for many comparisons, against scipy and by what the share of false alarms comes to."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from eventlens.statistics.discovery import adjusted, thresholds


@pytest.mark.parametrize("seed", range(4))
def test_against_scipy(seed: int) -> None:
    p = np.random.default_rng(seed).random(1 + 7 * seed) ** 3
    assert adjusted(p.tolist()) == pytest.approx(stats.false_discovery_control(p, method="bh").tolist())


def test_none_and_ties() -> None:
    assert adjusted([]) == []
    assert adjusted([0.02, 0.02]) == [0.02, 0.02]


def test_the_thresholds_are_those_at_which_it_turns() -> None:
    p = [0.001, 0.012, 0.2, 0.9]  # two discoveries at 5 %: 0.012 * 4 / 2 = 0.024
    stays, becomes = thresholds(p, 0.05)
    assert (stays, becomes) == (pytest.approx(0.025), pytest.approx(0.0375))  # 2/4 and 3/4 of 0.05
    assert adjusted([0.001, 0.012, becomes - 1e-6, 0.9])[2] <= 0.05 < adjusted([0.001, 0.012, becomes + 1e-6, 0.9])[2]
    assert thresholds([], 0.05) == (0.05, 0.05)
    assert thresholds([0.001], 0.05) == (0.05, 0.05)


def test_of_comparisons_without_any_change_one_in_twenty_families_has_an_alarm() -> None:
    rng = np.random.default_rng(8)
    alarms = sum(min(adjusted(rng.random(30).tolist())) <= 0.05 for _ in range(1000))
    assert alarms / 1000 == pytest.approx(0.05, abs=0.02)
