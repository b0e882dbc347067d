"""Named causes rest on what they cite, on simulated logs: they fall without the cited runs and stay without others."""

from __future__ import annotations

from dataclasses import replace

import polars as pl
import pytest

from tests.benchmarks.grounding import FALLS, STAYS, Grounds, one, report, stretches, without
from tests.causes.stories import loose_relay, of

SURE = Grounds("snatch", 0, "snatch", 0.9, 10, 0.9, True, 10, 0.9)


@pytest.mark.parametrize("cause", ["interface_relay", "lining_gap"])
def test_a_cause_of_a_simulated_log_rests_on_its_lines(cause: str) -> None:
    """Losses that stand alone, and a course over weeks."""
    found = one((cause, 0), "few")
    assert found is not None
    assert found.cited_runs > 0
    assert found.other_runs > 0
    assert found.grounded
    assert found.steady


def test_the_runs_that_hold_a_line_go_and_the_others_are_left() -> None:
    review = of(loose_relay(losses=5, runs=20))
    runs = review.runs.sort("start")
    around, free = stretches(review.subject, [int(runs["start_row"][0])])
    assert around.height == 1
    assert around["start"][0] == runs["start"][0]
    assert free.height < runs.height
    fewer = without(review.log, around)
    gone = review.log.events.join(fewer.events, on="row", how="anti")
    assert set(gone["row"]) >= {int(runs["start_row"][0]), int(runs["end_row"][0])}
    assert gone.select((pl.col("time").max() - pl.col("time").min()).dt.total_seconds()).item() < 10


def test_what_counts_as_grounded_and_as_steady() -> None:
    assert not SURE.grounded
    assert replace(SURE, without_cited=0.9 - FALLS - 0.01).grounded
    assert replace(SURE, first_without=False).grounded
    assert SURE.steady
    assert not replace(SURE, without_others=0.9 - STAYS - 0.01).steady
    lines = list(report([SURE, replace(SURE, first_without=False)]))
    assert "50.0%" in lines[1]
    assert "100.0%" in lines[2]
    assert any(line.startswith("snatch, seed 0: snatch 0.90") for line in lines)
