"""Guards frozen signals: what must move with the work, what has a rate of its own, and what may rest for weeks."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest

from eventlens.patterns._frozen import _longest_stillness, _lowest_share
from eventlens.result import Review
from eventlens.simulation import Scenario, as_log, simulate
from eventlens.wiring import review_log
from tests.logs import Records, merged, pulse, run
from tests.patterns.helpers import M5, found, limits, logged, reviewed, why

BRAKE = "hoist.brake.released"
LIMIT = "hoist.raise.limit"
TOP = (5_000_000.0, 5_000_000.0)


def runs(count: int, frozen: range = range(0)) -> Records:
    """Runs of a minute each ten minutes; in the frozen ones the brake's confirmation does not come."""
    parts = []
    for at in range(count):
        begin = 600.0 * at + 10
        parts.append(run(begin, begin + 60, brake=TOP if at in frozen else None))
    return [record for record in merged(*parts) if record[0] < 4_900_000]


def judged(records: Records, **options: float) -> Review:
    return reviewed(records, end=max(record[0] for record in records) + 600, **options)


def measured(review: Review, signal: str) -> list[tuple[float, str]]:
    rows = found("frozen_signal", review).filter(pl.col("signal").cast(pl.String) == signal)
    return rows.select("measured", "certainty").rows()


@pytest.mark.parametrize(("count", "want"), [(20, [(20.0, "certain")]), (19, [])])
def test_a_confirmation_that_never_moves(count: int, want: list[tuple[float, str]]) -> None:
    review = judged(runs(count, range(count)))
    assert measured(review, BRAKE) == want
    assert bool(why("frozen_signal", review)) is (count < 20)


def test_a_confirmation_that_stops() -> None:
    review = judged(runs(140, range(100, 140)))
    assert measured(review, BRAKE) == [(40.0, "certain")]
    occurrence = found("frozen_signal", review).row(0, named=True)
    assert occurrence["start"].timestamp() % 600 == 10  # the beginning of the first run without it
    assert measured(judged(runs(140, range(100, 119))), BRAKE) == []  # 19 runs: below frozen_least_runs
    assert measured(judged(runs(140)), BRAKE) == []


def test_a_limit_that_rests_is_held_against_its_own_rate() -> None:
    now_and_then = pulse(LIMIT, *((600.0 * at + 50, 600.0 * at + 70) for at in range(0, 1200, 60)))  # each ten hours
    # 20 changes in the 1141 runs up to the last: r = 0.0107 and by hand 21 (1 - r)^m < 0.001 / 8 from m = 1115 on
    assert measured(judged(merged(runs(2200), now_and_then)), LIMIT) == []  # 1059 runs
    assert measured(judged(merged(runs(2400), now_and_then)), LIMIT) == [(1259.0, "possible")]
    rare = pulse(LIMIT, (600.0 * 20 + 50, 600.0 * 20 + 70))  # one change says next to nothing of a rate
    assert measured(judged(merged(runs(700), rare)), LIMIT) == []


def test_a_limit_that_only_now_begins_to_be_reached_was_not_frozen() -> None:
    late = pulse(LIMIT, *((600.0 * at + 50, 600.0 * at + 70) for at in range(2000, 2400, 4)))
    assert measured(judged(merged(runs(2400), late)), LIMIT) == []


def test_a_limit_that_never_moved_has_no_rate() -> None:
    assert measured(judged(runs(700)), LIMIT) == []


def test_a_cluster_of_changes_counts_once_a_shift() -> None:
    quick = pulse(LIMIT, *((600.0 * at + 50, 600.0 * at + 70) for at in range(40)))  # forty runs in less than 7 hours
    assert measured(judged(merged(runs(90), quick)), LIMIT) == []


def test_time_in_which_the_state_is_unknown_is_left_out() -> None:
    records = [*runs(140, range(100, 140)), (600.0 * 100, BRAKE, None)]
    assert measured(judged(sorted(records, key=lambda r: r[0])), BRAKE) == []


def test_both_sides_of_the_limits() -> None:
    records = runs(140, range(100, 130))
    end = 600.0 * 141
    for least, reported in ((30.0, True), (31.0, False)):
        review = review_log(logged(records, end=end), limits(frozen_least_runs=least))
        assert bool(measured(review, BRAKE)) is reported
    # of 110 other runs all confirm: r = 0.025^(1/110) = 0.967; 111 (1 - r)^30 is about 1e-42
    for chance, reported in ((1e-30, True), (1e-45, False)):
        review = review_log(logged(records, end=end), limits(frozen_false_alarm=chance))
        assert bool(measured(review, BRAKE)) is reported


def test_the_longest_stillness() -> None:
    for moved, want in (("0010", (0, 2)), ("1000", (1, 4)), ("10010", (1, 3)), ("111", (0, 0)), ("000", (0, 3))):
        assert _longest_stillness(np.array([c == "1" for c in moved])) == want


def test_the_lower_limit_of_a_share() -> None:
    # all of n: 0.025^(1/n); one of n: 1 - 0.975^(1/n); both follow from the binomial by hand
    assert _lowest_share(50, 50) == pytest.approx(0.025 ** (1 / 50))
    assert _lowest_share(1, 50) == pytest.approx(1 - 0.975 ** (1 / 50))
    assert _lowest_share(0, 50) == 0
    # oracle: the binomial tail itself
    low = _lowest_share(7, 90)
    tail = sum(math.comb(90, k) * low**k * (1 - low) ** (90 - k) for k in range(7, 91))
    assert tail == pytest.approx(0.025)


def test_steady_work_is_called_frozen_as_rarely_as_stated() -> None:
    """Changes thrown at random over the runs: 400 logs, one in a thousand is the stated limit for all signals."""
    random = np.random.default_rng(7)
    alarms = 0
    for share in (0.02, 0.1, 0.5, 0.95):
        for _ in range(100):
            moved = random.random(400) < share
            first, last = _longest_stillness(moved)
            if not moved.any():
                continue
            rate = _lowest_share(int(moved.sum()), 400 - (last - first))
            alarms += rate > 0 and (moved.sum() + 1) * (1 - rate) ** (last - first) < 0.001
    assert alarms <= 3  # Poisson with mean 0.4: more than 3 in fewer than one of a thousand such tests


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_healthy_machine_has_no_frozen_signal(seed: int) -> None:
    review = review_log(as_log(simulate(Scenario(), seed=seed, days=3)), M5)
    assert found("frozen_signal", review).is_empty()
