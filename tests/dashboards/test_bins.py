"""Guards the bins behind the lanes: against a look at every microsecond, and no pulse or unknown time ever hidden."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards import bins

STATES = st.lists(st.sampled_from(["on", "off", "unknown"]), min_size=1, max_size=40)
"""What a signal is in each microsecond of a tiny log."""


def track(states: list[str]) -> bins.Track:
    """The track of a signal that is in each microsecond what the list says."""
    spans: list[tuple[int, int, bool]] = []
    for at, state in enumerate(states):
        if state != "unknown":
            if spans and spans[-1][1] == at and spans[-1][2] == (state == "on"):
                spans[-1] = (spans[-1][0], at + 1, spans[-1][2])
            else:
                spans.append((at, at + 1, state == "on"))
    start, end = (np.array([span[n] for span in spans], np.int64) for n in (0, 1))
    return bins.Track.of(start, end, np.array([span[2] for span in spans], bool))


@given(STATES, st.integers(1, 50))
def test_every_bin_is_as_a_look_at_each_microsecond_says(states: list[str], count: int) -> None:
    count = min(count, len(states))
    borders = bins.edges(0, len(states), count)
    found = bins.binned(track(states), borders)
    for n, (begin, until) in enumerate(itertools.pairwise(borders)):
        part = states[begin:until]
        assert found.on_us[n] == part.count("on")
        assert found.unknown_us[n] == part.count("unknown")
        expected = (
            bins.ON if part.count("on") == len(part) else
            bins.PARTLY if "on" in part else
            bins.UNKNOWN if "unknown" in part else
            bins.OFF
        )  # fmt: skip
        assert found.code[n] == expected


@given(STATES)
def test_gaps_are_what_is_unknown(states: list[str]) -> None:
    gaps = track(states).known.gaps(0, len(states))
    unknown = {at for a, b in zip(gaps.start, gaps.end, strict=True) for at in range(a, b)}
    assert unknown == {at for at, state in enumerate(states) if state == "unknown"}


def test_a_pulse_that_starts_and_ends_on_one_stamp_is_seen() -> None:
    whole = np.array([0, 500, 500]), np.array([500, 500, 1000]), np.array([False, True, False])
    found = bins.binned(bins.Track.of(*whole), bins.edges(0, 1000, 4))
    assert found.code.tolist() == [bins.OFF, bins.OFF, bins.PARTLY, bins.OFF]
    assert found.times.tolist() == [0, 0, 1, 0]


def test_a_signal_that_was_on_twice_in_a_bin_counts_two() -> None:
    start, on = np.arange(0, 100, 10), np.arange(10) % 2 == 1  # on from 10, 30, 50, 70 and 90, each for 10
    found = bins.binned(bins.Track.of(start, start + 10, on), bins.edges(0, 100, 2))
    assert found.times.tolist() == [2, 3]  # counted by hand: 10 and 30; 50, 70 and 90
    assert found.on_us.tolist() == [20, 30]


def test_intervals_of_a_clock_that_was_set_back_overlap_and_count_once() -> None:
    start, end = np.array([0, 50]), np.array([100, 120])
    found = bins.binned(bins.Track.of(start, end, np.array([True, True])), bins.edges(0, 120, 1))
    assert found.on_us.tolist() == [120]
    assert found.code.tolist() == [bins.ON]


@given(st.integers(-(10**15), 10**15), st.integers(1, 10**12), st.integers(1, 300))
def test_bins_fill_the_window_and_none_is_empty(start: int, span: int, count: int) -> None:
    borders = bins.edges(start, start + span, min(count, span))
    assert borders[0] == start
    assert borders[-1] == start + span
    assert (np.diff(borders) >= 1).all()


@given(st.lists(st.tuples(st.integers(0, 59), st.integers(-5, 5)), unique_by=lambda one: one[0]), st.integers(1, 60))
def test_the_largest_point_of_each_bin(points: list[tuple[int, int]], count: int) -> None:
    ordered = sorted(points)
    time = np.array([at for at, _ in ordered], np.int64)
    value = np.array([one for _, one in ordered], np.float64)
    borders = bins.edges(0, 50, min(count, 50))  # points after the last border are in no bin
    expected = [
        max((one for at, one in ordered if begin <= at < until), default=-np.inf)
        for begin, until in itertools.pairwise(borders)
    ]
    assert bins.largest(time, value, borders).tolist() == expected


@given(st.lists(st.none() | st.integers(-5, 5), min_size=1, max_size=30), st.integers(1, 30))
def test_extremes_of_held_values(values: list[int | None], count: int) -> None:
    known = [(at, one) for at, one in enumerate(values) if one is not None]
    start = np.array([at for at, _ in known], np.int64)
    borders = bins.edges(0, len(values), min(count, len(values)))
    low, high = bins.extremes(start, start + 1, np.array([one for _, one in known], np.float64), borders)
    for n, (begin, until) in enumerate(itertools.pairwise(borders)):
        part = [one for one in values[begin:until] if one is not None]
        if part:
            assert (low[n], high[n]) == (min(part), max(part))
        else:
            assert np.isnan(low[n])
            assert np.isnan(high[n])


@pytest.mark.parametrize(
    ("flags", "expected"),
    [([], []), ([False], []), ([True, True], [(0, 2)]), ([True, False, True], [(0, 1), (2, 3)])],
)
def test_stretches_of_true(flags: list[bool], expected: list[tuple[int, int]]) -> None:
    first, after = bins.stretches(np.array(flags, bool))
    assert list(zip(first.tolist(), after.tolist(), strict=True)) == expected
