"""Guards the logger: what it writes at a step, what it misses, its sign of life, its holes."""

from __future__ import annotations

from datetime import UTC, datetime

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.simulation.logger import HEARTBEAT, Recording, as_log, record

START = datetime(2026, 3, 2, tzinfo=UTC)
A, B = "hoist.raise.command", "hoist.raise.contactor"


def _seconds(recording: Recording, name: str) -> list[tuple[float, float]]:
    rows = recording.records.filter(pl.col("name") == name)
    return [((at - START).total_seconds(), value) for at, value in rows.select("time", "value").iter_rows()]


def _record(
    changes: list[tuple[float, float]], step_s: float, off: list[tuple[float, float]] | None = None
) -> Recording:
    tracks = {A: [(0.0, 0.0), *changes], B: [(0.0, 0.0)]}
    return record(tracks, (A, B), START, 60.0, step_s=step_s, heartbeat_s=10.0, off=off or [])


def test_a_change_is_stamped_at_the_first_step_that_is_not_before_it() -> None:
    recording = _record([(1.001, 1.0), (2.0, 0.0)], 0.5)
    assert _seconds(recording, A) == [(0.0, 0.0), (1.5, 1.0), (2.0, 0.0)]


def test_what_comes_and_goes_between_two_steps_is_not_seen() -> None:
    assert _seconds(_record([(1.01, 1.0), (1.4, 0.0)], 0.5), A) == [(0.0, 0.0)]
    assert _seconds(_record([(1.01, 1.0), (1.6, 0.0)], 0.5), A) == [(0.0, 0.0), (1.5, 1.0), (2.0, 0.0)]


def test_records_of_one_instant_stand_in_the_order_of_the_signals() -> None:
    tracks = {A: [(0.0, 0.0), (1.004, 1.0)], B: [(0.0, 0.0), (1.001, 1.0)]}
    recording = record(tracks, (A, B), START, 2.0, step_s=0.01, heartbeat_s=10.0)
    assert recording.records["name"].to_list() == [A, B, HEARTBEAT, A, B]


def test_sign_of_life_comes_on_its_own_grid() -> None:
    assert [at for at, _ in _seconds(_record([], 0.1), HEARTBEAT)] == [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]


def test_a_hole_lies_between_the_last_record_before_and_the_state_written_after_it() -> None:
    recording = _record([(21.0, 1.0), (23.0, 0.0), (35.0, 1.0)], 0.1, off=[(22.0, 40.05)])
    assert _seconds(recording, A) == [(0.0, 0.0), (21.0, 1.0), (40.1, 1.0)]
    assert recording.records["segment"].max() == 1
    log = as_log(recording)
    assert log.holes.height == 1
    hole = log.holes.row(0, named=True)
    assert [(hole[end] - START).total_seconds() for end in ("start", "end")] == [21.0, 40.1]
    last, first = hole["rows"]
    rows = dict(recording.records.with_row_index("row", offset=1).select("row", "time").iter_rows())
    assert (rows[last], rows[first]) == (hole["start"], hole["end"])
    assert log.observed_s == pytest.approx(21.0 + 60.0 - 40.1)


@settings(deadline=None)  # a slow oracle on a busy machine
@given(
    st.lists(st.integers(1, 4000), unique=True, max_size=30),
    st.sampled_from([0.001, 0.01, 0.02, 0.05, 0.1, 0.2, 1.0]),
)
def test_at_every_step_the_log_shows_the_state_of_its_sample(instants: list[int], step_s: float) -> None:
    # oracle: ask the track at every step
    changes = [(at / 100 + 0.003, float((number + 1) % 2)) for number, at in enumerate(sorted(instants))]
    records = _seconds(_record(changes, step_s), A)
    track = [(0.0, 0.0), *changes]
    expected, last = [], None
    for tick in range(int(60.0 / step_s) + 1):
        if step_s < 0.01 and not any(abs(at - tick * step_s) < 0.01 for at, _ in track):
            continue
        value = next(v for at, v in reversed(track) if at <= tick * step_s + 1e-9)
        if value != last:
            expected.append((round(tick * step_s, 6), value))
            last = value
    assert records == expected


def test_as_log_counts_rows_and_edges_of_each_name() -> None:
    log = as_log(_record([(1.0, 1.0), (2.0, 0.0)], 0.1))
    names = {row["name"]: row for row in log.names.iter_rows(named=True)}
    assert (names[A]["rows"], names[A]["edges"], names[A]["mapped_by"]) == (3, 2, "profile")
    assert (names[HEARTBEAT]["rows"], names[HEARTBEAT]["signal"]) == (7, None)
    assert log.rhythm_s == 10.0
