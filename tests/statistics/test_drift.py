"""Guards drift and change of level: a famous series, exact small cases, false alarms and intervals by simulation."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from scipy import stats

from eventlens import EventlensError
from eventlens.statistics.discovery import adjusted
from eventlens.statistics.drift import CLEAR, LEAST, PART, change_point, drift

NILE = [1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140]
NILE += [1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969]
NILE += [831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759, 781]
NILE += [865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749]
NILE += [838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740]
"""Yearly flow of the Nile at Aswan, 1871 to 1970 (Cobb, Biometrika 65, 1978; as statsmodels holds it)."""


def test_the_nile_changed_after_1898() -> None:
    found = change_point(NILE)
    assert found is not None
    assert 1871 + found.at - 1 == 1898  # the last year of the old level; published many times
    assert 1895 <= 1871 + found.first - 1 <= 1898  # published 95 % intervals: 1895 to 1902 or so (from memory)
    assert 1898 <= 1871 + found.last - 1 <= 1903
    assert found.p == 1 / 2000
    assert (found.before, found.after) == (np.median(NILE[:28]), np.median(NILE[28:]))
    series = drift(range(100), NILE)
    assert series is not None
    assert series.shape == "step"


def test_p_is_the_share_of_the_orders_of_the_weeks() -> None:
    values = np.array([1.0, 2.0, 1.5, 4.0, 5.0, 4.2])

    def gain(y: np.ndarray) -> float:
        whole = ((y - y.mean()) ** 2).sum()
        parts = [(y[:k], y[k:]) for k in range(PART, len(y) - PART + 1)]
        return max(whole - sum(((side - side.mean()) ** 2).sum() for side in two) for two in parts)

    largest = gain(values)
    exact = np.mean([gain(np.array(order)) >= largest - 1e-12 for order in permutations(values)])
    found = change_point(values)
    assert found is not None
    assert found.at == 3
    assert found.p == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 1999))


def test_a_step_without_scatter_has_a_sharp_date() -> None:
    found = change_point([0.2] * 5 + [0.3] * 7)
    assert found is not None
    assert (found.at, found.first, found.last, found.before, found.after) == (5, 5, 5, 0.2, 0.3)
    flat = change_point([0.2] * 8)
    assert flat is not None
    assert flat.p == 1.0


def test_one_bad_week_is_no_drift() -> None:
    values = [0.20, 0.21, 0.20, 0.22, 0.21, 0.90, 0.20, 0.21, 0.20, 0.21]
    found = drift(range(10), values)
    assert found is not None
    assert found.p > 0.05
    assert abs(found.slope) < 0.002


@pytest.mark.parametrize("tail", [1.0, 5.0])
def test_stable_weeks_alarm_no_oftener_than_stated(tail: float) -> None:
    rng = np.random.default_rng(12)
    alarms = slopes = 0
    for _ in range(250):
        values = rng.standard_t(tail, size=12)
        found = drift(range(12), values)
        assert found is not None
        alarms += found.p < 0.05
        slopes += not found.low <= 0 <= found.high
    wide = 3 * np.sqrt(0.05 * 0.95 / 250)
    assert alarms / 250 <= 0.05 + wide
    assert slopes / 250 <= 0.05 + wide


def test_the_interval_holds_the_change() -> None:
    rng = np.random.default_rng(13)
    held = widths = 0.0
    for _ in range(150):
        values = rng.normal(size=20) + np.where(np.arange(20) >= 12, 2.5, 0.0)
        found = change_point(values, draws=499)
        assert found is not None
        held += found.first <= 12 <= found.last
        widths += found.last - found.first
    assert held / 150 >= 0.95 - 3 * np.sqrt(0.05 * 0.95 / 150)
    assert widths / 150 < 6  # and it is no excuse


def test_wear_is_a_slope_and_an_exchange_a_step() -> None:
    rng = np.random.default_rng(14)
    noise = rng.normal(scale=0.004, size=12)
    wear = drift(range(12), 0.2 + 0.01 * np.arange(12) + noise)
    step = drift(range(12), np.where(np.arange(12) >= 7, 0.3, 0.2) + noise)
    assert wear is not None
    assert step is not None
    assert (wear.shape, step.shape) == ("slope", "step")
    assert wear.low < 0.01 < wear.high
    assert max(wear.p, step.p) < 0.01
    assert step.change.at == 7


def test_weeks_may_be_missing_but_not_out_of_order() -> None:
    weeks = [0, 1, 2, 5, 6, 7, 9]
    found = drift(weeks, [0.02 * week for week in weeks])
    assert found is not None
    assert found.slope == pytest.approx(0.02)
    assert drift(range(LEAST - 1), [1.0] * (LEAST - 1)) is None
    assert drift(range(LEAST), [1.0] * LEAST) is not None
    assert change_point([1.0] * (2 * PART - 1)) is None
    with pytest.raises(EventlensError, match="ascending weeks"):
        drift([1, 0], [1.0, 2.0])
    with pytest.raises(EventlensError, match="confidence level"):
        drift([0], [1.0], level=1.0)


SPEED_CHANGE = [0.42, 0.44, 0.42, 0.42, 0.42, 0.42, 0.04, 0.04, 0.04, 0.04, 0.04, 0.04]
"""Weekly medians of a machine whose timer was taken out after six weeks, at a log step of 0.02 s."""


def test_a_clear_step_of_medians_stands_out_of_many_comparisons() -> None:
    by_order, by_size = (drift(range(12), SPEED_CHANGE, step=step) for step in (None, 0.02))
    assert by_order is not None
    assert by_size is not None
    assert by_order.p * 32 > 0.05  # 2 of 924 orders at best, for two tests
    assert by_size.p * 1000 < 0.05
    # by hand: the scatter within the levels is below that of rounding, 10 (0.02 s)^2 / 12; gain 12/4 (0.3833 s)^2
    gain, left = 12 / 4 * 0.38333**2, 10 * 0.02**2 / 12
    assert by_size.change.p == pytest.approx(9 * stats.f.sf(gain * 10 / left, 1, 10), rel=0.01)


def test_a_step_of_two_weeks_is_left_to_the_orders() -> None:
    values = [0.20, 0.22, 0.20, 0.20, 0.22, 0.20, 0.22, 0.20, 0.20, 0.22, 0.30, 0.30]
    orders, both = (drift(range(12), values, step=step) for step in (None, 0.02))
    assert orders is not None
    assert both is not None
    assert orders.change.p > CLEAR
    assert both.p == orders.p


@pytest.mark.parametrize("tail", [3.0, 1000.0])
def test_fleets_of_stable_medians_are_seldom_called_changed(tail: float) -> None:
    """Twenty times of stable machines, adjusted together: one false change in twenty fleets at most."""
    rng, step, fleets = np.random.default_rng(15), 0.02, 30
    alarms = 0
    for _ in range(fleets):
        values = rng.uniform(0.1, 0.5, (20, 1)) + rng.choice([0.002, 0.006, 0.012], (20, 1)) * rng.standard_t(
            tail, (20, 12)
        )
        found = [drift(range(12), row, step=step) for row in np.round(values / step) * step]
        alarms += bool(min(adjusted([one.p for one in found if one is not None])) <= 0.05)
    assert alarms <= stats.binom.ppf(0.999, fleets, 0.05)
