"""The following benchmark: what is counted as the way from a line to its finding."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import polars as pl

from eventlens import schema
from eventlens.live import Message
from tests.benchmarks.follow import LATE_S, waits

AT = datetime(2026, 3, 27, 6, tzinfo=UTC)
STAMPS = pl.Series([AT + timedelta(seconds=10 * beat) for beat in range(6)], dtype=schema.TIME)
WRITTEN = [100.0 + beat for beat in range(6)]
"""A line every ten seconds of the log, one a second of the clock on the wall."""


def message(pattern: str, end_s: float, **given: Any) -> Message:
    end = AT + timedelta(seconds=end_s)
    one = {"pattern": pattern, "motion": "hoist", "signal": None, "direction": None, "start": end, "end": end, "n": 0}
    kept = {"told": "found", "why": "", "going_on": False, **given}
    return Message(number=1, occurrence=one, age_s=0.0, program_s=0.0, at=AT, whole=False, **kept)


def test_the_line_that_settles_a_finding_is_the_first_that_far_after_its_end() -> None:
    # a drop-out settles in 10 s: with late records the line of 20 s is the first that tells, written at 102
    assert waits([(102.4, message("drop_out", 8.0))], STAMPS, WRITTEN) == [(12.0, 102.4 - 102.0)]
    assert waits([(103.4, message("drop_out", 8.1))], STAMPS, WRITTEN)[0][0] == 30.0 - 8.1
    # a missing speed-change delay in one second
    assert waits([(101.5, message("speed_change_missing", 10.0 - 1 - LATE_S))], STAMPS, WRITTEN) == [(3.0, 0.5)]


def test_what_goes_on_comes_again_or_ended_elsewhere_is_left_out() -> None:
    left_out = [
        message("drop_out", 8.0, going_on=True),
        message("drop_out", 8.0, told="changed"),
        message("drop_out", -1.0),  # before the lines that were written
        message("drop_out", 45.0),  # no line is that far after it
        message("starts_per_hour_high", 8.0),  # a window of an hour
    ]
    assert waits([(110.0, one) for one in left_out], STAMPS, WRITTEN) == []
