"""Runs: where they begin and end, their delays, and what a hole or an end of the log makes of them."""

from __future__ import annotations

import itertools
from typing import Any

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.motion import build_runs, build_states
from eventlens.motion.runs import RunParameters
from eventlens.reading.log import Log
from tests.logs import HOIST, Records, at, make_log, merged, off, pulse, run
from tests.patterns.helpers import reviewed


def runs_of(log: Log) -> pl.DataFrame:
    return build_runs(build_states(log.events, log.segments, log.signals()), log.events, RunParameters(), log.step_s)


def only(records: Records, **options: Any) -> dict[str, Any]:
    options = {
        "carries": [name for name in HOIST if name not in {r[1] for r in records if r[0] == 0}],
        "end": 100,
    } | options
    runs = runs_of(make_log(records, **options))
    assert runs.height == 1
    return runs.row(0, named=True)


def test_an_ordinary_run_has_all_its_times() -> None:
    # counted by hand from the records that `run` writes
    row = only(run(10, 13, fast=(10.4, 12.5)))
    assert (row["start"], row["end"], row["duration_s"]) == (at(10), at(13), 3.0)
    assert row["start_seen"]
    assert row["end_seen"]
    assert row["basis"] == "contactor"
    assert row["contactor_delay_s"] == pytest.approx(0.05)
    assert row["release_time_s"] == pytest.approx(0.15)
    assert row["apply_time_s"] == pytest.approx(0.10)
    assert row["speed_change_delay_s"] == pytest.approx(0.40)
    assert row["fast_s"] == pytest.approx(2.1)
    assert row["ending"] == "let_go"
    assert row["ending_certain"]


def test_with_command_and_contactor_the_run_is_the_contactor() -> None:
    row = only(merged(off("hoist.raise.command"), run(10, 13, command=(9, 12.9))))
    assert row["start"] == at(10)
    assert row["command_on"] == at(9)
    assert row["contactor_delay_s"] == pytest.approx(1.0)


def test_with_commands_only_the_run_is_the_command() -> None:
    log = make_log(pulse("trolley.left.command", (3, 8)), end=20)
    row = runs_of(log).row(0, named=True)
    assert (row["motion"], row["direction"], row["basis"]) == ("trolley", "left", "command")
    assert (row["start"], row["end"], row["ending"]) == (at(3), at(8), "let_go")
    assert row["contactor_delay_s"] is None


def test_directions_may_be_logged_differently() -> None:
    log = make_log(merged(pulse("hoist.raise.contactor", (1, 4)), pulse("hoist.lower.command", (6, 9))), end=20)
    assert runs_of(log).select("direction", "basis").rows() == [("raise", "contactor"), ("lower", "command")]


def test_a_run_that_is_on_at_the_beginning_is_no_start() -> None:
    log = make_log([(0, "hoist.raise.contactor", 1.0), (10, "hoist.raise.contactor", 0.0)], end=20)
    row = runs_of(log).row(0, named=True)
    assert not row["start_seen"]
    assert row["duration_s"] == 10.0  # at least


def test_a_run_that_a_hole_cuts_is_censored_and_its_end_unknown() -> None:
    log = make_log(
        [(0, "hoist.raise.contactor", 0.0), (5, "hoist.raise.contactor", 1.0), (900, "hoist.raise.contactor", 0.0)],
        holes=[(9, 900)],
        end=1000,
    )
    row = runs_of(log).row(0, named=True)
    assert (row["start"], row["end"], row["start_seen"], row["end_seen"]) == (at(5), at(9), True, False)
    assert (row["duration_s"], row["ending"]) == (4.0, "unknown")


def test_a_command_before_a_hole_does_not_call_a_run_after_it() -> None:
    log = make_log(
        [
            *off("hoist.raise.command", "hoist.raise.contactor"),
            (5, "hoist.raise.command", 1.0),
            (900, "hoist.raise.contactor", 0.0),
            (900.1, "hoist.raise.contactor", 1.0),
            (903, "hoist.raise.contactor", 0.0),
        ],
        holes=[(6, 900)],
        end=1000,
    )
    row = runs_of(log).row(0, named=True)
    assert row["command_on"] is None
    assert row["contactor_delay_s"] is None


def test_only_the_first_run_of_a_command_answers_it() -> None:
    # the contactor falls and closes again under one command: the second closing is no answer to the press
    records = merged(pulse("hoist.raise.command", (1, 9)), pulse("hoist.raise.contactor", (1.05, 3), (3.2, 9)))
    assert runs_of(make_log(records, end=20))["contactor_delay_s"].to_list() == [pytest.approx(0.05), None]


def test_pause_and_reversal() -> None:
    log = make_log([*off(*HOIST), *merged(run(10, 12), run(12.4, 14, "lower"), run(20, 21, "lower"))], end=30)
    assert runs_of(log)["pause_s"].to_list() == [None, pytest.approx(0.4), pytest.approx(6.0)]
    assert runs_of(log)["reversed"].to_list() == [None, True, False]


def test_a_confirmation_that_falls_after_a_quick_restart_belongs_to_the_stop_before() -> None:
    records = merged(
        pulse("hoist.raise.contactor", (10, 12), (12.2, 15)),
        pulse("hoist.brake.released", (10.15, 12.3), (12.5, 15.1)),
    )
    runs = runs_of(make_log(records, end=30))
    assert runs["release_time_s"].to_list() == [pytest.approx(0.15), pytest.approx(0.3)]
    assert runs["apply_time_s"].to_list() == [None, pytest.approx(0.1)]


def test_a_confirmation_that_was_on_all_along_has_no_release_time() -> None:
    records = merged(pulse("hoist.raise.contactor", (10, 12)), pulse("hoist.brake.released", (3, 40)))
    row = runs_of(make_log(records, end=50)).row(0, named=True)
    assert row["brake_on"] == at(3)
    assert row["release_time_s"] is None


@pytest.mark.parametrize(
    ("fast", "delay"), [((10.0, 12), 0.0), ((9.0, 12), 0.0), ((10.25, 12), 0.25), ((5.0, 10.05), None)]
)
def test_fast_is_timed_from_the_contactor(fast: tuple[float, float], delay: float | None) -> None:
    """On with it or before it: no slow first; still opening from the run before: not this run's."""
    records = merged(pulse("hoist.raise.contactor", (10, 13)), pulse("hoist.fast.contactor", fast))
    row = runs_of(make_log(records, end=30)).row(0, named=True)
    assert row["speed_change_delay_s"] == (None if delay is None else pytest.approx(delay))


def test_time_in_fast_counts_only_inside_the_run() -> None:
    records = merged(pulse("hoist.raise.contactor", (10, 13)), pulse("hoist.fast.contactor", (10.5, 11), (12, 13.2)))
    assert runs_of(make_log(records, end=30))["fast_s"].to_list() == [pytest.approx(1.5)]


def test_the_highest_load_during_the_run() -> None:
    records = merged(
        pulse("hoist.raise.contactor", (10, 13), (20, 22)),
        [(5, "load.kg", 9000.0), (11, "load.kg", 800.0), (12, "load.kg", 950.0), (15, "load.kg", 7000.0)],
    )
    assert runs_of(make_log(records, end=30))["load_kg"].to_list() == [950.0, None]


def test_rows_of_a_run_are_the_lines_its_times_came_from() -> None:
    log = make_log([*off(*HOIST), *run(10, 13, fast=(10.4, 12.5))], end=100)
    row = runs_of(log).row(0, named=True)
    line = {at: (signal, value) for at, signal, value in log.events.select("row", "signal", "value").rows()}
    assert line[row["command_on_row"]] == ("hoist.raise.command", 1.0)
    assert line[row["command_off_row"]] == ("hoist.raise.command", 0.0)
    assert line[row["start_row"]] == ("hoist.raise.contactor", 1.0)
    assert line[row["end_row"]] == ("hoist.raise.contactor", 0.0)
    assert line[row["brake_on_row"]] == ("hoist.brake.released", 1.0)
    assert line[row["brake_off_row"]] == ("hoist.brake.released", 0.0)
    assert line[row["fast_on_row"]] == ("hoist.fast.contactor", 1.0)


def test_an_empty_log_has_no_runs() -> None:
    assert runs_of(make_log([], end=10)).is_empty()


presses = st.lists(st.tuples(st.integers(0, 50), st.integers(1, 30)), max_size=12)


@settings(max_examples=100, deadline=None)
@given(presses)
def test_runs_are_the_stretches_in_which_the_contactor_is_on(gaps: list[tuple[int, int]]) -> None:
    """Oracle: lay pauses and runs end to end by hand; none may be lost, joined or moved."""
    now, spans = 1, []
    for pause, length in gaps:
        start = now + pause + 1
        spans.append((start, start + length))
        now = start + length
    log = make_log(pulse("bridge.forward.contactor", *spans), end=now + 5)
    runs = runs_of(log)
    assert runs.select("start", "end").rows() == [(at(a), at(b)) for a, b in spans]
    assert runs["duration_s"].sum() == sum(b - a for a, b in spans)
    assert runs["pause_s"].to_list()[1:] == [b[0] - a[1] for a, b in itertools.pairwise(spans)]


def test_the_brake_has_set_when_its_last_confirmation_falls() -> None:
    """A contact that bounces at the release, or goes and comes in mid-run, leaves the time of setting known."""
    records = merged(
        [(10.0, "hoist.raise.contactor", 1.0), (20.0, "hoist.raise.contactor", 0.0)],
        [
            (10.2, "hoist.brake.released", 1.0),
            (10.205, "hoist.brake.released", 0.0),
            (10.21, "hoist.brake.released", 1.0),
        ],
        [
            (15.0, "hoist.brake.released", 0.0),
            (15.3, "hoist.brake.released", 1.0),
            (20.15, "hoist.brake.released", 0.0),
        ],
    )
    run = reviewed(records).runs.row(0, named=True)
    assert (run["brake_on"], run["brake_off"]) == (at(10.2), at(20.15))
    assert run["release_time_s"] == pytest.approx(0.2)
    assert run["apply_time_s"] == pytest.approx(0.15)


@pytest.mark.parametrize(("first_ends", "second_ends"), [(20, 14), (14, 20)])
def test_the_pause_after_runs_that_overlap_begins_when_the_last_of_them_ends(
    first_ends: float, second_ends: float
) -> None:
    """A broken interlock: both directions at once, whichever of them ends last; at rest from 20 s to 25 s."""
    records = merged(
        pulse("hoist.raise.contactor", (10, first_ends), (25, 26)), pulse("hoist.lower.contactor", (12, second_ends))
    )
    assert runs_of(make_log(records, end=30))["pause_s"].to_list() == [None, None, 5.0]


@pytest.mark.parametrize(("direction", "reversed_"), [("raise", False), ("lower", True)])
def test_a_run_after_two_that_overlap_is_held_against_the_one_that_ended_last(
    direction: str, *, reversed_: bool
) -> None:
    """Raising from 10 to 15 s, with lowering on from 12 to 13 s as well: the hook was raised last."""
    records = merged(run(10, 15), run(12, 13, "lower"), run(15.2, 18, direction))
    runs = runs_of(make_log(records, end=30))
    assert runs["pause_s"].to_list()[-1] == pytest.approx(0.2)
    assert runs["reversed"].to_list()[-1] is reversed_
