"""The delay benchmark: what a logger that was on for a part of the record would have written, and the table."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

from eventlens.simulation.logger import HEARTBEAT, Recording, record
from tests.benchmarks.delay import COLUMNS, lines_of, piece, table

START = datetime(2026, 3, 2, 6, tzinfo=UTC)
RUN, LIMIT = "hoist.raise.contactor", "hoist.raise.limit"


@pytest.fixture
def whole() -> Recording:
    """Off, on from 10 to 20 s; the limit on from 15 s; the logger off from 40 to 60 s."""
    tracks = {RUN: [(0.0, 0.0), (10.0, 1.0), (20.0, 0.0)], LIMIT: [(0.0, 0.0), (15.0, 1.0)]}
    return record(tracks, (RUN, LIMIT), START, 100.0, step_s=0.1, heartbeat_s=10.0, off=[(40.0, 60.0)])


def written(recording: Recording) -> list[tuple[float, str, float]]:
    rows = recording.records.filter(pl.col("name") != HEARTBEAT).select("time", "name", "value").rows()
    return [((time - START).total_seconds(), name, value) for time, name, value in rows]


def at(seconds: float) -> datetime:
    return START + timedelta(seconds=seconds)


def test_it_begins_with_the_state_of_every_signal(whole: Recording) -> None:
    # a state that changes at this very instant is the new one; nothing is written twice
    assert written(piece(whole, at(10), at(30))) == [(10, RUN, 1), (10, LIMIT, 0), (15, LIMIT, 1), (20, RUN, 0)]
    assert written(piece(whole, at(16), at(18))) == [(16, RUN, 1), (16, LIMIT, 1)]


def test_in_a_hole_nothing_is_known_until_the_logger_is_back(whole: Recording) -> None:
    (first, *_), *_ = written(piece(whole, at(50), at(100)))
    assert first > 60
    assert piece(whole, at(50), at(100)).segments.height == 1


def test_the_table_counts_what_never_was_certain_and_leaves_it_out_of_the_delays() -> None:
    found = table([("no_start", 5.0), ("no_start", None), ("no_start", 0.5), ("no_start", 0.1), ("jogging", None)])
    assert found.rows() == [("jogging", 1, None, None, 1), ("no_start", 4, 0.5, 5.0, 1)]
    assert found.schema == pl.Schema(COLUMNS)
    assert lines_of(found)[2].split() == ["no_start", "4", "0.5", "s", "5", "s", "1"]
