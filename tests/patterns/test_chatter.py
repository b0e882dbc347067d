"""chatter: a contact toggles faster than a hand; neighbours are quick hands, swinging loads, and what follows from it.

Expected numbers are counted by hand.
"""

from __future__ import annotations

import random

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.motion import build_states
from eventlens.motion.chatter import ChatterParameters, find_chatter
from eventlens.result import Review
from tests.logs import HOIST, Records, at, make_log, merged, pulse, run
from tests.patterns.helpers import found, limits, logged, reviewed, spans

NAME = "chatter"
CONTACTOR = "hoist.raise.contactor"
WHOLE = 1_000_000


def toggles(signal: str, start: float, pairs: int, period: float, length: float) -> Records:
    """On-off pairs: one every `period` seconds, each `length` long."""
    starts = [round(start + n * period, 6) for n in range(pairs)]
    return [(t, signal, v) for s in starts for t, v in ((s, 1.0), (round(s + length, 6), 0.0))]


def names(review: Review) -> list[str]:
    return review.findings["pattern"].to_list()


def certainties(records: Records, step_s: float = 0.01) -> list[str]:
    return [span[2] for span in spans(NAME, reviewed(records, step_s=step_s))]


def test_three_pairs_within_a_second_span_first_to_last_toggle() -> None:
    review = reviewed(toggles("hoist.raise.limit", 20, 3, 0.2, 0.1))
    assert spans(NAME, review) == [(at(20), at(20.5), "certain")]
    assert names(review) == [NAME]
    row = found(NAME, review).row(0, named=True)
    assert (row["motion"], row["signal"], row["limit"]) == ("hoist", "hoist.raise.limit", 1.0)
    assert row["measured"] == 0.6  # three mean periods
    assert len(row["rows"]) == 6
    assert "up to 3 times in a row" in review.findings["summary"][0]


def test_two_pairs_are_a_double_press() -> None:
    assert certainties(toggles("hoist.raise.limit", 20, 2, 0.2, 0.1)) == []


@pytest.mark.parametrize("length", [0.05, 0.2, 0.35])
def test_a_quick_hand_is_none(length: float) -> None:
    """2.5 presses a second, however short: from memory, as quick as a pendant button can be pressed."""
    records = merged(toggles("hoist.raise.command", 20, 12, 0.4, length), toggles(CONTACTOR, 20.03, 12, 0.4, length))
    assert spans(NAME, reviewed(records)) == []
    assert spans(NAME, reviewed(records, step_s=0.05)) == []
    assert len(spans("jogging", reviewed(records))) == 1


@pytest.mark.parametrize(
    ("period", "certainty"),
    [(0.323, ["certain"]), (0.324, ["possible"]), (0.343, ["possible"]), (0.344, [])],
)
def test_both_sides_of_the_rate(period: float, certainty: list[str]) -> None:
    """Three mean periods against 1 s: two periods are known to 0.02 s, three to 0.03 s."""
    assert certainties(toggles("hoist.raise.limit", 20, 3, period, 0.05)) == certainty


@pytest.mark.parametrize(("length", "certainty"), [(0.56, ["certain"]), (0.58, ["possible"]), (0.64, [])])
def test_both_sides_of_the_window(length: float, certainty: list[str]) -> None:
    """First on to last off against 1 s; the last of three pairs is the long one."""
    records = [*toggles("hoist.raise.limit", 20, 2, 0.2, 0.1), *toggles("hoist.raise.limit", 20.4, 1, 1, length)]
    assert certainties(records) == certainty


def test_many_pairs_settle_what_three_leave_open() -> None:
    """A period of 0.3 s at a step of 0.06 s: any three are 0.9 +- 0.18 s; of 39 periods in 11.82 s three in 0.91 s."""
    assert certainties(toggles("hoist.raise.limit", 20, 4, 0.3, 0.1), step_s=0.06) == ["possible"]
    assert certainties(toggles("hoist.raise.limit", 20, 40, 0.3, 0.1), step_s=0.06) == ["certain"]


@pytest.mark.parametrize(("step", "why"), [(0.066, []), (0.067, ["not_resolvable"]), (0.2, ["not_resolvable"])])
def test_a_step_at_which_a_quick_hand_could_look_like_it(step: float, why: list[str]) -> None:
    """Two periods of a hand, 0.8 s, less two steps against two thirds of a second."""
    review = reviewed(toggles("hoist.raise.command", 20, 3, 0.4, 0.1), step_s=step)
    assert spans(NAME, review) == []
    assert review.not_assessed.filter(pl.col("pattern") == NAME)["why"].to_list() == why
    # coarser than a bounce, a step needs twice as many pairs
    few = reviewed(toggles("hoist.raise.limit", 20, 5, 0.1, 0.05), step_s=step)
    assert [span[2] for span in spans(NAME, few)] == (["possible"] if step < 0.067 else [])
    sure = reviewed(toggles("hoist.raise.limit", 20, 6, 0.1, 0.05), step_s=step)
    assert [span[2] for span in spans(NAME, sure)] == ["certain"]


def test_seconds_alone_do_not_show_it_unless_there_are_many() -> None:
    few, many = ([(20.0 + n // 8, "hoist.raise.limit", float(n % 2 == 0)) for n in range(count)] for count in (8, 80))
    assert certainties(few, step_s=1.0) == []
    assert certainties(many, step_s=1.0) == ["certain"]  # 39 periods in at most 11 s: three of them in 0.85 s


def test_windows_that_share_a_pair_are_one_and_others_are_not() -> None:
    records = [*toggles("hoist.raise.limit", 20, 9, 0.2, 0.1), *toggles("hoist.raise.limit", 23, 3, 0.2, 0.1)]
    assert spans(NAME, reviewed(records)) == [(at(20), at(21.7), "certain"), (at(23), at(23.5), "certain")]


@pytest.mark.parametrize("signal", ["overload.trip", "overload.warning"])
def test_a_load_that_swings_about_the_limit_is_none(signal: str) -> None:
    records = merged(run(10, 21, command=(9.9, 22)), toggles(signal, 20, 6, 0.2, 0.1))
    assert spans(NAME, reviewed(records)) == []


class TestUnknown:
    """Each pair must be seen; nothing is bridged."""

    def test_an_unknown_state_between_breaks_it(self) -> None:
        records = toggles("hoist.raise.limit", 20, 3, 0.2, 0.1)
        records[3] = (20.3, "hoist.raise.limit", None)
        assert certainties(records) == []
        assert certainties([(t, s, 0.0 if v is None else v) for t, s, v in records]) == ["certain"]

    def test_the_beginning_of_the_log_shows_a_state_and_no_change(self) -> None:
        records = toggles("hoist.raise.limit", 0, 3, 0.2, 0.1)
        assert certainties(records) == []
        assert certainties(toggles("hoist.raise.limit", 0, 4, 0.2, 0.1)) == ["certain"]

    def test_a_hole_is_not_bridged(self) -> None:
        records = toggles("hoist.raise.limit", 20, 4, 0.2, 0.1)
        log = make_log([(0, "hoist.raise.limit", 0.0), *records], end=100, holes=[(20.32, 20.38)])
        states = build_states(log.events, log.segments, log.signals())
        assert find_chatter(states, ChatterParameters(), 0.01).is_empty()


class TestOneCause:
    """Of signals that follow each other only the first is reported, and what it does to runs is nothing of its own."""

    def test_the_command_comes_before_contactor_and_brake(self) -> None:
        chain = (("hoist.raise.command", 0.0), (CONTACTOR, 0.02), ("hoist.brake.released", 0.05))
        review = reviewed(merged(*(toggles(name, 20 + lag, 6, 0.15, 0.08) for name, lag in chain)))
        assert found(NAME, review)["signal"].to_list() == ["hoist.raise.command"]
        assert names(review) == [NAME]

    def test_the_contactor_comes_before_the_brake_and_makes_no_drop_outs(self) -> None:
        held = pulse("hoist.raise.command", (9.9, 24))
        gaps = [(10.0, 20.0), *((20.1 + 0.2 * n, 20.2 + 0.2 * n) for n in range(5)), (21.1, 24.03)]
        closed = [(round(t, 6), CONTACTOR, v) for a, b in gaps for t, v in ((a, 1.0), (b, 0.0))]
        released = [(round(t + 0.03, 6), "hoist.brake.released", v) for t, _, v in closed]
        review = reviewed(merged(held, closed, released))
        assert found(NAME, review)["signal"].to_list() == [CONTACTOR]
        assert names(review) == [NAME]
        assert spans(NAME, review) == [(at(20), at(21.1), "certain")]  # it should stay on: off to on again

    def test_three_gaps_in_a_second_are_chatter_and_two_are_drop_outs(self) -> None:
        for gaps, expected in ((3, [NAME]), (2, ["drop_out"])):
            off = [(round(20 + 0.3 * n, 6), round(20.1 + 0.3 * n, 6)) for n in range(gaps)]
            contactor = [(10.0, CONTACTOR, 1.0), *((t, CONTACTOR, v) for a, b in off for t, v in ((a, 0.0), (b, 1.0)))]
            held = pulse("hoist.raise.command", (9.9, 24))
            few = [name for name in HOIST if "brake" not in name]
            assert names(reviewed(merged(held, contactor, [(24.02, CONTACTOR, 0.0)]), few)) == expected

    def test_what_stops_the_whole_machine_comes_first(self) -> None:
        stop = toggles("stop.emergency", 20, 6, 0.15, 0.08)
        review = reviewed(merged(stop, toggles(CONTACTOR, 20.02, 6, 0.15, 0.08)))
        assert found(NAME, review).select("motion", "signal").rows() == [(None, "stop.emergency")]
        assert names(review) == [NAME]

    def test_other_motions_and_other_times_are_other_causes(self) -> None:
        later = toggles("hoist.brake.released", 40, 6, 0.15, 0.08)
        trolley = toggles("trolley.left.contactor", 20, 6, 0.15, 0.08)
        review = reviewed(merged(toggles(CONTACTOR, 20, 6, 0.15, 0.08), later, trolley))
        assert sorted(found(NAME, review)["signal"].cast(pl.String)) == [
            "hoist.brake.released",
            CONTACTOR,
            "trolley.left.contactor",
        ]

    def test_runs_before_and_after_it_are_judged_as_ever(self) -> None:
        chatter = toggles("hoist.raise.limit", 40, 6, 0.15, 0.08)
        drop = run(10, 20, command=(9.9, 22))
        assert names(reviewed(merged(drop, chatter))) == [NAME, "drop_out"]


def test_its_limits_can_be_changed() -> None:
    records = toggles("hoist.raise.limit", 20, 4, 0.4, 0.1)
    assert len(spans(NAME, reviewed(records, machine=limits(chatter_window_s=1.5)))) == 1
    assert spans(NAME, reviewed(toggles("hoist.raise.limit", 20, 4, 0.1, 0.05), machine=limits(chatter_pairs=5))) == []


def test_a_log_without_any_such_signal_is_not_assessed() -> None:
    review = reviewed(pulse("fault.reset", (10, 11)), carries=[])
    assert NAME in review.not_assessed["pattern"].to_list()


def slow(edges: list[int], pairs: int, window: int) -> list[tuple[int, int]]:
    """By hand: windows of `pairs` pairs of toggles (microseconds) quick enough, joined where they share a state."""
    spells: list[tuple[int, int]] = []
    for i in range(len(edges) - 2 * pairs + 1):
        final = i + 2 * pairs - 1
        periods = (edges[final - 1] - edges[i]) * pairs
        if edges[final] - edges[i] <= window and periods <= window * (pairs - 1):
            if spells and i < spells[-1][1]:
                spells[-1] = (spells[-1][0], final)
            else:
                spells.append((i, final))
    return [(edges[a], edges[b]) for a, b in spells]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 5))
def test_it_finds_what_a_slow_search_finds(seed: int, pairs: int) -> None:
    rng = random.Random(seed)
    edges, now = [], 10 * WHOLE
    for _ in range(60):
        now += rng.choice([20_000, 90_000, 160_000, 240_000, 600_000])
        edges.append(now)
    records = [(t / WHOLE, "hoist.raise.limit", float(n % 2 == 0)) for n, t in enumerate(edges)]
    log = logged(records, [])
    states = build_states(log.events, log.segments, log.signals())
    got = (
        find_chatter(states, ChatterParameters(chatter_pairs=float(pairs), bounce_s=-1.0), 0.0)
        .select("start", "end")
        .rows()
    )
    assert got == [(at(a / WHOLE), at(b / WHOLE)) for a, b in slow(edges, pairs, WHOLE)]


@pytest.mark.parametrize(("bounce_s", "certain"), [(0.01, []), (0.02, []), (0.03, ["certain"])])
def test_contacts_that_bounce_do_not_chatter(bounce_s: float, certain: list[str]) -> None:
    """A confirmation that goes back for a moment after each of its changes; contacts bounce for 1 to 20 ms."""
    bounces = [
        (t + late, "hoist.brake.released", float(value))
        for t, value in ((10.2, 1), (10.6, 0), (11.0, 1), (11.4, 0))
        for late, value in ((0.0, value), (bounce_s, 1 - value), (2 * bounce_s, value))
    ]
    assert certainties(bounces, step_s=0.001) == certain


def test_short_flickers_by_themselves_are_no_bounces() -> None:
    """A loose relay may make contact for 10 ms every 70 ms: none of these is beside a change that stays."""
    assert certainties(toggles("hoist.raise.contactor", 20, 6, 0.07, 0.01), step_s=0.001) == ["certain"]
