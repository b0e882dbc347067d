"""Guards the truth: each rule of the recorder from both sides, the duty windows against counting."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.simulation import windows
from eventlens.simulation.truth import (
    Recorder,
    Span,
    as_frame,
    write,
)


def _run(recorder: Recorder, start: float, end: float, reason: str = "let_go", direction: str = "lower") -> None:
    recorder.contactor_closed("hoist", direction, start)
    recorder.brake_confirmed("hoist")
    recorder.contactor_opened("hoist", direction, end, reason, held=reason != "let_go")


def _done(recorder: Recorder) -> list[Span]:
    """What was noted, without the margins (which have a test of their own)."""
    recorder.finish()
    return [span._replace(margin_s=None) for span in recorder.spans]


@pytest.mark.parametrize(("delay", "margin"), [(-0.02, 0.12), (0.10, 0.0), (0.11, 0.01), (0.19, 0.09), (0.29, 0.01)])
def test_the_margin_is_the_distance_to_the_nearest_limit(delay: float, margin: float) -> None:
    recorder = Recorder()
    recorder.contactor_closed("hoist", "raise", 10.0)
    recorder.brake_confirmed("hoist")
    if delay < 0:
        recorder = Recorder()
        recorder.fast_closed("hoist", 10.0 + delay)
        recorder.contactor_closed("hoist", "raise", 10.0)
        recorder.brake_confirmed("hoist")
    else:
        recorder.fast_closed("hoist", 10.0 + delay)
    assert recorder.spans[0].margin_s == pytest.approx(margin)


def test_a_burst_is_as_sure_as_its_longest_jog_and_its_longest_pause() -> None:
    recorder = Recorder()
    for start, end in [(0.0, 0.9), (2.8, 3.6), (5.0, 5.97)]:
        _run(recorder, start, end)
    recorder.finish()
    assert recorder.spans[0].margin_s == pytest.approx(0.03)  # 1.0 - 0.97; the pauses leave 0.1 and 0.6


@pytest.mark.parametrize(
    ("runs", "burst"),
    [
        ([(0.0, 0.9), (2.8, 3.7), (5.6, 6.5)], True),
        ([(0.0, 0.9), (2.8, 3.7)], False),  # two are no burst
        ([(0.0, 0.9), (2.8, 3.7), (5.6, 6.6)], False),  # the third is 1.0 s long
        ([(0.0, 0.9), (2.8, 3.7), (5.7, 6.6)], False),  # the last pause is 2.0 s
    ],
)
def test_three_short_runs_with_short_pauses_are_jogging(runs: list[tuple[float, float]], burst: bool) -> None:
    recorder = Recorder()
    for start, end in runs:
        _run(recorder, start, end)
    assert _done(recorder) == ([Span("jogging", "hoist", 0.0, 6.5)] if burst else [])


@pytest.mark.parametrize(("length", "noted"), [(0.99, False), (1.0, True)])
def test_letting_go_of_a_run_that_never_confirmed_is_noted_after_a_second(length: float, noted: bool) -> None:
    recorder = Recorder()
    recorder.contactor_closed("hoist", "raise", 0.0)
    recorder.contactor_opened("hoist", "raise", length, "let_go", held=False)
    assert _done(recorder) == ([Span("brake_not_confirmed", "hoist", 0.0, length)] if noted else [])


def test_a_run_that_something_else_ended_breaks_the_burst() -> None:
    recorder = Recorder()
    for start, reason in ((0.0, "let_go"), (1.0, "let_go"), (2.0, "overload"), (3.0, "let_go"), (4.0, "let_go")):
        _run(recorder, start, start + 0.5, reason)
    assert _done(recorder) == []


def test_both_directions_count_for_a_burst() -> None:
    recorder = Recorder()
    for start, direction in ((0.0, "lower"), (1.0, "raise"), (2.0, "lower")):
        _run(recorder, start, start + 0.5, direction=direction)
    assert _done(recorder) == [Span("jogging", "hoist", 0.0, 2.5)]


@pytest.mark.parametrize(
    ("reason", "held", "pattern"),
    [
        ("relay", True, "drop_out"),
        ("relay", False, None),  # the operator had let go before the contact opened
        ("feedback_lost", True, "drop_out"),
        ("brake_lost", True, "drop_out"),
        ("brake_not_confirmed", True, "brake_not_confirmed"),
        ("supply", True, None),
        ("limit", True, None),
    ],
)
def test_the_part_that_opened_the_contactor_names_the_pattern(reason: str, held: bool, pattern: str | None) -> None:
    recorder = Recorder()
    recorder.contactor_closed("hoist", "raise", 1.0)
    recorder.brake_confirmed("hoist")
    recorder.contactor_opened("hoist", "raise", 3.0, reason, held)
    assert _done(recorder) == ([Span(pattern, "hoist", 1.0, 3.0)] if pattern else [])


@pytest.mark.parametrize(("held_s", "refused", "noted"), [(0.7, True, True), (0.69, True, False), (5.0, False, False)])
def test_no_start_needs_a_dead_relay_and_a_long_press(held_s: float, refused: bool, noted: bool) -> None:
    recorder = Recorder()
    recorder.command("trolley", "left", True, 0.0)
    if refused:
        recorder.relay_failed("trolley", "left")
    recorder.command("trolley", "left", False, held_s)
    assert _done(recorder) == ([Span("no_start", "trolley", 0.0, held_s)] if noted else [])


@pytest.mark.parametrize(
    ("delay", "pattern"),
    [
        (-0.02, "speed_change_missing"),
        (0.10, "speed_change_missing"),
        (0.11, "speed_change_short"),
        (0.29, "speed_change_short"),
        (0.30, None),
        (0.40, None),
    ],
)
def test_delay_between_the_contactors_names_the_pattern(delay: float, pattern: str | None) -> None:
    # 0.10 s and 0.75 of the setting of 0.40 s are the definition's limits
    recorder = Recorder()
    for at, fast in sorted([(10.0, False), (10.0 + delay, True)]):
        if fast:
            recorder.fast_closed("hoist", at)
        else:
            recorder.contactor_closed("hoist", "raise", at)
            recorder.brake_confirmed("hoist")
    recorder.contactor_opened("hoist", "raise", 15.0, "let_go", held=False)
    first, last = sorted((10.0, 10.0 + delay))
    assert _done(recorder) == ([Span(pattern, "hoist", first, last)] if pattern else [])


def test_only_the_first_fast_of_a_run_is_judged() -> None:
    recorder = Recorder()
    recorder.contactor_closed("hoist", "raise", 0.0)
    recorder.brake_confirmed("hoist")
    recorder.fast_closed("hoist", 0.42)
    recorder.fast_opened("hoist")
    recorder.fast_closed("hoist", 0.9)
    recorder.contactor_opened("hoist", "raise", 2.0, "let_go", held=False)
    assert _done(recorder) == []


@pytest.mark.parametrize(
    ("slowed_at", "off", "noted"),
    [
        (None, 1.3, True),  # 1.0 s of the run under the fast command
        (None, 1.29, False),
        (1.35, 5.0, True),  # the slow-down limit came when it was too late to explain anything
        (1.2, 5.0, False),
    ],
)
def test_fast_not_reached_after_a_second_in_vain(slowed_at: float | None, off: float, noted: bool) -> None:
    recorder = Recorder()
    recorder.command("hoist", "fast", True, 0.2)
    recorder.contactor_closed("hoist", "raise", 0.3)
    recorder.brake_confirmed("hoist")
    recorder.fast_failed("hoist")
    if slowed_at is not None:
        recorder.slowed("hoist", "raise", slowed_at)
    recorder.command("hoist", "fast", False, off)
    recorder.contactor_opened("hoist", "raise", 9.0, "let_go", held=False)
    assert _done(recorder) == ([Span("fast_not_reached", "hoist", 0.2, off)] if noted else [])


@pytest.mark.parametrize(("at", "pattern"), [(1.0, "overload_snatch"), (1.01, "overload_trip")])
def test_a_trip_within_the_first_second_of_raising_is_a_snatch(at: float, pattern: str) -> None:
    recorder = Recorder()
    recorder.contactor_closed("hoist", "raise", 0.0)
    recorder.brake_confirmed("hoist")
    recorder.trip(True, at)
    recorder.contactor_opened("hoist", "raise", at + 0.03, "overload", held=True)
    recorder.trip(False, at + 5.0)
    assert _done(recorder) == [Span(pattern, "hoist", at, at + 5.0)]


def test_a_trip_while_lowering_is_a_trip() -> None:
    recorder = Recorder()
    recorder.contactor_closed("hoist", "lower", 0.0)
    recorder.brake_confirmed("hoist")
    recorder.trip(True, 0.5)
    recorder.trip(False, 0.8)
    assert _done(recorder) == [Span("overload_trip", "hoist", 0.5, 0.8)]


@pytest.mark.parametrize(("gap", "events"), [(1.99, 1), (2.0, 2)])
def test_chatter_of_one_trip_is_one_event(gap: float, events: int) -> None:
    recorder = Recorder()
    for start in (0.0, 0.5 + gap):
        recorder.trip(True, start)
        recorder.trip(False, start + 0.5)
    assert len(_done(recorder)) == events


@pytest.mark.parametrize(
    ("pressed", "lowered", "noted"),
    [(30.0, False, True), (30.1, False, False), (5.0, True, False)],
)
def test_raising_again_after_a_trip_without_lowering_is_a_repeat(pressed: float, lowered: bool, noted: bool) -> None:
    recorder = Recorder()
    recorder.trip(True, 0.0)
    recorder.trip(False, 0.5)
    if lowered:
        _run(recorder, 2.0, 3.0)
    recorder.command("hoist", "raise", True, pressed)
    recorder.command("hoist", "raise", False, pressed + 1.0)
    repeats = [span for span in _done(recorder) if span.pattern == "overload_repeat"]
    assert repeats == ([Span("overload_repeat", "hoist", pressed, pressed + 1.0)] if noted else [])


def test_starts_window_excludes_what_lies_exactly_an_hour_back() -> None:
    # limit 2: the starts at 0, 10 and 20 are three in one window; 0 and 3600 are not (by hand)
    assert windows.of_starts([0.0, 10.0, 20.0], 2) == [(20.0 - 3600.0, 20.0)]
    assert windows.of_starts([0.0, 10.0, 3600.0], 2) == []
    assert windows.of_starts([0.0, 10.0, 3599.0], 2) == [(-1.0, 3599.0)]


def test_running_window_begins_and_ends_where_the_share_is_crossed() -> None:
    # 300 s of running; more than 0.25 of 600 s from t = 150 s on; the run leaves the window until 150 s are left,
    # at t = 750 s (by hand)
    assert windows.of_running([(0.0, 300.0)], 0.25) == [(150.0 - 600.0, 750.0)]
    assert windows.of_running([(0.0, 150.0)], 0.25) == []


@settings(deadline=None)  # a slow oracle on a busy machine
@given(st.lists(st.tuples(st.integers(1, 200), st.integers(1, 300)), min_size=1, max_size=12), st.integers(1, 4))
def test_running_windows_agree_with_counting_second_by_second(gaps: list[tuple[int, int]], quarter: int) -> None:
    runs, at = [], 0
    for pause, length in gaps:
        runs.append((float(at + pause), float(at + pause + length)))
        at += pause + length
    seconds = [any(a <= t < b for a, b in runs) for t in range(at + 601)]
    share = quarter / 5
    high = [t for t in range(at + 601) if sum(seconds[max(0, t - 600) : t]) > share * 600]
    covered: set[int] = set()
    for t in high:
        covered.update(range(t - 600, t))
    found = windows.of_running(runs, share)
    # ends may lie up to a second outside the whole seconds of the count; gaps between windows may close by as much
    for t in covered:
        assert any(start <= t + 1 and t <= end for start, end in found)
    for start, end in found:
        inside = range(int(start) + 2, int(end) - 1)
        missing = [t for t in inside if t not in covered]
        assert len(missing) <= 2


def test_frame_and_file_keep_microseconds_and_sort(tmp_path: Path) -> None:
    begin = datetime(2026, 3, 2, tzinfo=UTC)
    frame = as_frame([Span("no_start", "hoist", 2.5, 3.25), Span("log_hole", None, 1.000001, 2.0)], begin)
    content = json.loads(write(frame, tmp_path / "truth.json").read_text("utf-8"))
    assert content == [
        {
            "pattern": "log_hole",
            "motion": None,
            "start": "2026-03-02T00:00:01.000001Z",
            "end": "2026-03-02T00:00:02.000000Z",
        },
        {
            "pattern": "no_start",
            "motion": "hoist",
            "start": "2026-03-02T00:00:02.500000Z",
            "end": "2026-03-02T00:00:03.250000Z",
        },
    ]
