"""Guards what bursts do to an interval: its coverage by simulation, and that less work is neither better nor worse."""

from __future__ import annotations

import numpy as np
import pytest

from eventlens.statistics.bursts import spread
from eventlens.statistics.two_rates import compare_rates


def test_single_events_are_exact() -> None:
    assert spread([([1, 0, 1, 0], [3.0, 9.0, 1.0, 2.0]), ([0, 1], [1.0, 5.0])]) == 1.0
    assert spread([]) == 1.0
    assert spread([([0, 0], [1.0, 1.0])]) == 1.0


def test_by_hand() -> None:
    # 4 events in one of four equal blocks: (4-1)^2 + 3 * 1 = 12, times 4/3 is 16, over 4 events is 4: one burst of 4
    assert spread([([4, 0, 0, 0], [1.0] * 4)]) == pytest.approx(4.0)
    # the other side, with none, adds nothing
    assert spread([([4, 0, 0, 0], [1.0] * 4), ([0, 0], [1.0] * 2)]) == pytest.approx(4.0)
    # events in step with the use are no burst
    assert spread([([8, 2, 6], [4.0, 1.0, 3.0])]) == 1.0
    # one block cannot tell: all of it may be one burst
    assert spread([([5], [10.0])]) == 5.0


def story(rng: np.random.Generator, hours: int, ratio: float, mean: float) -> tuple[list[int], list[float]]:
    """Hours of uneven work; bursts of a mean size (geometric) last ten minutes and may reach into the next hour."""
    use = rng.poisson(40 * rng.choice([0.2, 0.5, 1.0, 1.5], hours)).astype(float)
    counts = np.zeros(hours, int)
    for hour, bursts in enumerate(rng.poisson(0.005 * ratio * use)):
        for _ in range(bursts):
            at = rng.random() + rng.random(rng.geometric(1 / mean)) / 6
            np.add.at(counts, np.minimum(hours - 1, hour + at.astype(int)), 1)
    return counts.tolist(), use.tolist()


@pytest.mark.parametrize(("mean", "ratio", "after"), [(1.0, 1.0, 40), (3.0, 1.0, 40), (8.0, 0.4, 10), (8.0, 1.0, 4)])
def test_the_interval_holds_for_bursts_and_is_too_narrow_without(mean: float, ratio: float, after: int) -> None:
    rng = np.random.default_rng(11)
    held = {"bursts": 0, "plain": 0}
    for _ in range(300):
        (x, n), (y, m) = story(rng, 40, 1.0, mean), story(rng, after, ratio, mean)
        for how, wide in (("bursts", spread([(x, n), (y, m)])), ("plain", 1.0)):
            found = compare_rates(sum(x), sum(n), sum(y), sum(m), spread=wide)
            held[how] += found.low <= ratio and (found.high is None or found.high >= ratio)
    assert held["bursts"] / 300 >= 0.93  # 95 % less about two standard errors of 300
    assert mean == 1.0 or held["plain"] / 300 < 0.9


def test_a_fault_in_every_run_stays_the_same_with_half_of_the_work() -> None:
    before, after = [40] * 20, [20] * 20
    wide = spread([(before, [40.0] * 20), (after, [20.0] * 20)])
    found = compare_rates(800, 800.0, 400, 400.0, spread=wide)
    assert (wide, found.value, found.p) == (1.0, 1.0, 1.0)
