"""Records that come out of order within the wait are put in place; later ones are refused, each once."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from eventlens.live.waiting import Waiting

WAIT_S = 2.0

arrivals = st.lists(st.tuples(st.floats(0.0, 1.0), st.integers(0, 8)), max_size=40)
"""Time since the arrival before [s], and a stamp [s]."""


def run(steps: list[tuple[float, int]], wait_s: float, looks: list[float]) -> tuple[list[tuple[int, int]], list[int]]:
    """What is given in its order, as stamp and number of the arrival; and the numbers of those that are late."""
    waiting: Waiting[int] = Waiting(wait_s)
    given_: list[tuple[int, int]] = []
    late: list[int] = []
    now = 0.0
    for number, (since, stamp) in enumerate(steps):
        if looks:  # somewhere between two arrivals
            given_ += waiting.due(now + since * looks[number % len(looks)])
        now += since
        given_ += waiting.due(now)
        if not waiting.add(stamp, number, now):
            late.append(number)
    return given_ + waiting.rest(), late


def late_by_definition(steps: list[tuple[float, int]], wait_s: float) -> list[int]:
    """Oracle: late is what comes more than the wait after the arrival of one with a later stamp that is not late."""
    late: list[int] = []
    clock = 0.0
    seen: list[tuple[float, int]] = []
    for number, (since, stamp) in enumerate(steps):
        clock += since
        if any(clock - at > wait_s and stamp < other for at, other in seen):
            late.append(number)
        else:
            seen.append((clock, stamp))
    return late


@given(arrivals, st.lists(st.floats(0.0, 1.0), max_size=3))
def test_whatever_comes_in_time_is_sorted_and_stable_and_the_rest_is_refused_once(
    steps: list[tuple[float, int]], looks: list[float]
) -> None:
    found, late = run(steps, WAIT_S, looks)
    assert late == late_by_definition(steps, WAIT_S)
    taken = [(stamp, number) for number, (_, stamp) in enumerate(steps) if number not in late]
    assert found == sorted(taken)  # by stamp, then in the order of arrival


@given(st.lists(st.integers(0, 100), max_size=30), st.randoms(use_true_random=False))
def test_any_order_within_the_wait_gives_the_same_record(stamps: list[int], random: object) -> None:
    shuffled = list(stamps)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    found, late = run([(WAIT_S / 40, stamp) for stamp in shuffled], WAIT_S, [])
    assert [stamp for stamp, _ in found] == sorted(stamps)
    assert late == []


def test_the_wait_from_both_sides() -> None:
    """One behind by exactly the wait is in time; the next instant is not (counted by hand)."""
    for after, in_time in ((2.0, True), (2.0 + 1e-9, False)):
        waiting: Waiting[str] = Waiting(2.0)
        assert waiting.add(10, "later", 0.0)
        given_ = waiting.due(after)
        assert waiting.add(9, "earlier", after) is in_time
        given_ += waiting.rest()
        assert [record for _, record in given_] == (["earlier", "later"] if in_time else ["later"])


def test_without_a_wait_everything_is_given_at_the_next_look() -> None:
    waiting: Waiting[str] = Waiting(0.0)
    waiting.add(5, "a", 1.0)
    assert waiting.next_s(1.0) == 0.0
    assert waiting.due(1.001) == [(5, "a")]
    assert waiting.next_s(1.001) is None
    assert waiting.add(5, "the same instant", 1.001)
    assert not waiting.add(4, "before it", 1.001)


def test_the_floor_of_an_earlier_run_holds_until_it_is_forgotten() -> None:
    waiting: Waiting[str] = Waiting(1.0, floor=100)
    assert not waiting.add(99, "a", 0.0)
    waiting.forget()
    assert waiting.add(99, "a", 0.0)
    assert waiting.rest() == [(99, "a")]
    assert waiting.floor == 99
