"""jogging: a burst of three short runs fires, two do not; both sides of each limit."""

from __future__ import annotations

import pytest

from tests.logs import at, merged, run
from tests.patterns.helpers import found, limits, reviewed, spans


def burst(
    n: int, length: float = 0.5, pause: float = 0.7, begin: float = 100.0, motion: str = "hoist", way: str = "raise"
):
    runs = [
        run(begin + i * (length + pause), begin + i * (length + pause) + length, way, motion=motion) for i in range(n)
    ]
    return merged(*runs)


def test_three_jogs_are_a_burst_from_first_start_to_last_end() -> None:
    assert spans("jogging", reviewed(burst(3))) == [(at(100), at(102.9), "certain")]


def test_two_jogs_are_positioning() -> None:
    assert spans("jogging", reviewed(burst(2))) == []


@pytest.mark.parametrize(("length", "fires"), [(0.97, True), (1.0, False)])
def test_length_limit_both_sides(length: float, fires: bool) -> None:
    assert bool(spans("jogging", reviewed(burst(4, length)))) is fires


@pytest.mark.parametrize(("pause", "fires"), [(1.97, True), (2.0, False)])
def test_pause_limit_both_sides(pause: float, fires: bool) -> None:
    assert bool(spans("jogging", reviewed(burst(3, pause=pause)))) is fires


def test_near_the_limit_the_burst_is_only_possible() -> None:
    # two log steps of 10 ms: 0.99 s may have been 1.01 s
    assert spans("jogging", reviewed(burst(3, 0.99)))[0][2] == "possible"
    assert spans("jogging", reviewed(burst(3, 0.97)))[0][2] == "certain"


def test_a_longer_run_breaks_the_burst() -> None:
    records = merged(burst(2), run(102.7, 105.7), burst(2, begin=106.5))
    assert spans("jogging", reviewed(records)) == []


def test_both_directions_of_one_motion_count_and_two_motions_do_not_mix() -> None:
    both = merged(run(100, 100.5), run(101.2, 101.7, "lower"), run(102.4, 102.9))
    assert len(spans("jogging", reviewed(both))) == 1
    mixed = merged(burst(2), burst(1, begin=103, motion="trolley", way="left"))
    assert spans("jogging", reviewed(mixed)) == []


def test_runs_that_drop_out_are_no_jogs() -> None:
    records = merged(*(run(t, t + 0.5, command=(t - 0.05, t + 0.9)) for t in (100, 101.5, 103)))
    review = reviewed(records)
    assert spans("jogging", review) == []
    assert len(spans("drop_out", review)) == 3


def test_travel_motions_jog_too() -> None:
    review = reviewed(burst(4, motion="trolley", way="left"))
    assert found("jogging", review)["motion"].to_list() == ["trolley"]


def test_single_jogs_are_counted_and_the_machine_file_changes_the_limit() -> None:
    assert reviewed(burst(2)).motions["hoist"].jogs == 2
    assert reviewed(burst(2), machine=limits(jog_longest_s=0.3)).motions["hoist"].jogs == 0
    assert spans("jogging", reviewed(burst(2), machine=limits(jog_burst=2))) != []


def test_commands_alone_show_jogging() -> None:
    records = [r for r in burst(3) if r[1] == "hoist.raise.command"]
    assert len(spans("jogging", reviewed(records, carries=["hoist.raise.command"]))) == 1


def test_a_run_beside_the_other_direction_is_no_jog() -> None:
    # the third begins (or ends) while the contactor of the other direction is still on
    apart = merged(burst(2), run(102.4, 102.9, "lower"))
    assert len(spans("jogging", reviewed(apart))) == 1
    for other in (run(102.8, 103.3), run(102.0, 102.5)):
        assert spans("jogging", reviewed(merged(burst(2), run(102.4, 102.9, "lower"), other))) == []


@pytest.mark.parametrize(("gap", "expected"), [(0.01, "possible"), (0.02, "certain")])
def test_jogs_that_may_overlap_the_other_direction_are_only_possible(gap: float, expected: str) -> None:
    # the third of three follows the second so closely that two steps of 0.01 s may hide both directions at once
    third = run(101.7 + gap, 102.2 + gap, "lower", brake=(500, 500))
    assert [span[2] for span in spans("jogging", reviewed(merged(burst(2), third)))] == [expected]
