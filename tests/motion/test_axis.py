"""The record's own axis: a clock that is set back divides the record, and nothing spans the division."""

from __future__ import annotations

from dataclasses import replace

import polars as pl
import pytest

from eventlens import schema
from eventlens.machine import Machine
from eventlens.motion import RecordAxis
from eventlens.reading.log import Log
from eventlens.wiring import review_log
from tests.logs import at, make_log, pulse
from tests.patterns.helpers import M5, found, spans

RUN = "hoist.raise.contactor"


def set_back() -> Log:
    """Runs at 600-640 s, then, after the clock went back by 160 s, at 480-505 s (record order says after)."""
    records = [
        (600.0, RUN, 0.0),
        (601.0, RUN, 1.0),
        (640.0, RUN, 0.0),
        (479.0, RUN, 0.0),
        (480.0, RUN, 1.0),
        (505.0, RUN, 0.0),
    ]
    log = make_log(records, begin=600, end=640)
    return replace(
        log,
        events=log.events.with_columns(segment=pl.Series([0, 0, 0, 1, 1, 1], dtype=pl.UInt32)),
        segments=pl.DataFrame(
            {"segment": [0, 1], "start": [at(600), at(479)], "end": [at(640), at(505)], "rows": [3, 3]},
            schema=schema.SEGMENTS.schema,
        ),
        clock_steps=pl.DataFrame(
            {"at": [at(640)], "seconds": [-161.0], "why": ["back"], "rows": [[4, 5]]}, schema=schema.CLOCK_STEPS.schema
        ),
    ).check()


def test_two_starts_in_the_order_of_the_record_and_an_unknown_pause() -> None:
    review = review_log(set_back(), Machine())
    assert review.runs.select("start", "end").rows() == [(at(601), at(640)), (at(480), at(505))]
    assert review.runs["pause_s"].to_list() == [None, None]
    assert review.motions["hoist"].running_s == 39 + 25
    assert review.log.observed_s == 40 + 26


def test_no_rate_over_the_seam() -> None:
    peak = review_log(set_back(), Machine()).motions["hoist"].starts_per_hour_max
    assert peak is not None
    assert peak.value == 1


def test_there_and_back_is_the_same_and_record_time_never_goes_back() -> None:
    log = set_back()
    axis = RecordAxis.of(log)
    moved = axis.to_record(log.events, "time")
    assert moved["time"].is_sorted()
    assert axis.to_clock(moved, "time").equals(log.events)
    assert not axis.same


def test_without_a_clock_step_both_axes_are_the_same() -> None:
    log = make_log(pulse(RUN, (1, 2)), end=10)
    axis = RecordAxis.of(log)
    assert axis.same
    assert axis.to_record(log.events, "time").equals(log.events)


def test_holes_do_not_divide_a_clock() -> None:
    log = make_log([*pulse(RUN, (1, 2)), (900.0, RUN, 0.0), *pulse(RUN, (905, 908))[1:]], holes=[(100, 900)], end=1000)
    assert RecordAxis.of(log).same
    peak = review_log(log, Machine()).motions["hoist"].starts_per_hour_max
    assert peak is not None
    assert peak.value == 2


def stepped(days: int) -> Log:
    """A run, then, after the clock went by whole days, 241 starts of 6 s, one each 14 s, from 10 s on."""
    begin = days * 86400.0 + 100
    spans = [(begin + 10 + 14 * n, begin + 16 + 14 * n) for n in range(241)]
    before, after = pulse(RUN, (10, 11)), [(begin, RUN, 0.0), *pulse(RUN, *spans)[1:]]
    log = make_log([*before, *after], end=100)
    ends = [at(100), at(begin + 3500)]
    return replace(
        log,
        events=log.events.with_columns(segment=pl.Series([0] * len(before) + [1] * len(after), dtype=pl.UInt32)),
        segments=pl.DataFrame(
            {"segment": [0, 1], "start": [at(0), at(begin)], "end": ends, "rows": [len(before), len(after)]},
            schema=schema.SEGMENTS.schema,
        ),
        clock_steps=pl.DataFrame(
            {"at": [at(100)], "seconds": [days * 86400.0], "why": ["set"], "rows": [[4, 5]]},
            schema=schema.CLOCK_STEPS.schema,
        ),
    ).check()


@pytest.mark.parametrize("days", [-40, 40, 400])
def test_a_window_that_begins_before_a_clock_was_set_is_placed_by_that_clock(days: int) -> None:
    """FEM 9.683, M5: 240 starts an hour, 40 % of ten minutes; counted by hand.

    40 runs of 6 s are 240 s, and the 41st, after 40 times 14 s, goes above it.
    """
    begin = days * 86400.0 + 110
    review = review_log(stepped(days), M5)
    assert spans("starts_per_hour_high", review) == [(at(begin + 240 * 14 - 3600), at(begin + 240 * 14), "certain")]
    placed = found("cyclic_duration_high", review)["start"].to_list()
    assert placed == [at(begin + 40 * 14 - 600)]
