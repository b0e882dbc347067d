"""After `settles_s` an occurrence stays as it is, wherever the log ends: logs of simulated machines, cut at random."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

from eventlens import schema
from eventlens.patterns import catalogue
from tests.benchmarks.settling import held, lines_of, of_story, table

AT = datetime(2026, 3, 2, 6, tzinfo=UTC)


@pytest.mark.parametrize("story", ["crew", "timer", "low trip"])
def test_what_has_settled_stays(story: str) -> None:
    found = table(of_story(story, seed=17, cuts=5)).filter(pl.col("settles_s").is_finite())
    assert found["settled"].sum() > 20
    assert found.filter(pl.col("otherwise") > 0).rows() == []


def test_only_patterns_that_weigh_the_whole_log_never_settle() -> None:
    never = {name for name, pattern in catalogue().items() if math.isinf(pattern.settles_s)}
    assert never == {"frozen_signal", "idle_too_long", "lost_function", "unusual_period"}


def occurrences(*rows: tuple[float, float, str]) -> pl.DataFrame:
    """Drop-outs: start, end [s], certainty."""
    return pl.DataFrame(
        {
            "pattern": ["drop_out"] * len(rows),
            "motion": ["hoist"] * len(rows),
            "signal": [None] * len(rows),
            "direction": ["raise"] * len(rows),
            "start": [AT + timedelta(seconds=row[0]) for row in rows],
            "end": [AT + timedelta(seconds=row[1]) for row in rows],
            "certainty": [row[2] for row in rows],
            "measured": [1.0] * len(rows),
            "limit": [None] * len(rows),
        },
        schema={name: dtype for name, dtype in schema.OCCURRENCES.schema.items() if name != "rows"},
    )


def test_what_differs_is_seen_and_how_late() -> None:
    whole = occurrences((0, 1, "certain"), (10, 11, "possible"), (20, 22, "certain"), (40, 41, "certain"))
    so_far = occurrences((0, 1, "certain"), (10, 11, "certain"), (20, 21, "certain"))
    now = pl.DataFrame({"time": [AT + timedelta(seconds=30)]}, schema={"time": schema.TIME})
    found = held(whole, so_far, now).sort("age_s")
    assert found["age_s"].to_list() == [9.0, 19.0, 29.0]
    assert found["same"].to_list() == [False, False, True]
    row = table(found).row(0, named=True)
    assert (row["held"], row["latest_s"], row["settled"], row["otherwise"]) == (3, 19.0, 2, 1)  # it settles in 10 s
    assert "19.00 s" in lines_of(table(found))[1]
