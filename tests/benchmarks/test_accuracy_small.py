"""The score against simulated truth in a small form: two seeds of every story at the steps that controllers have.

The whole table comes from the command in `accuracy.py`. Expected shares are the project's own aims.
"""

from __future__ import annotations

import polars as pl
import pytest

from eventlens.simulation import HELD_OUT, ORDINARY
from eventlens.simulation.truth import PATTERNS
from tests.benchmarks import accuracy

STEPS = (0.01, 0.02)


@pytest.fixture(scope="module", params=[ORDINARY, HELD_OUT], ids=["ordinary", "held out"])
def scores(request: pytest.FixtureRequest) -> accuracy.Scores:
    found: accuracy.Scores = {}
    for story, _, fine in accuracy.simulated(2, first=100, held_out=request.param is HELD_OUT):
        for step_s in STEPS:
            log = fine.at_step(step_s)
            accuracy.add(found, story, step_s, log.truth, accuracy.review(log))
    return found


def total(scores: accuracy.Scores, pattern: str, step_s: float) -> accuracy.Score:
    return accuracy.total([score for key, score in scores.items() if key[:2] == (pattern, step_s)])


def test_every_pattern_has_truths_to_find(scores: accuracy.Scores) -> None:
    assert {key[0] for key, score in scores.items() if score.truth} == set(PATTERNS)


@pytest.mark.parametrize("step_s", STEPS)
def test_what_the_log_can_decide_is_found_and_what_is_called_certain_is_right(
    scores: accuracy.Scores, step_s: float
) -> None:
    cells = {pattern: total(scores, pattern, step_s) for pattern in PATTERNS}
    missed = {name: cell.decided - cell.decided_matched for name, cell in cells.items()}
    wrong = {name: cell.certain - cell.certain_matched for name, cell in cells.items()}
    # few truths a pattern: one (or two in a hundred) may go astray, more than 1 % of all of them may not
    assert all(count <= max(1, 0.02 * cells[name].decided) for name, count in missed.items()), missed
    assert all(count <= max(1, 0.02 * cells[name].certain) for name, count in wrong.items()), wrong
    assert sum(missed.values()) <= 0.01 * sum(cell.decided for cell in cells.values())
    assert sum(wrong.values()) <= 0.01 * sum(cell.certain for cell in cells.values())


def test_matching_is_one_to_one_and_needs_both_ends() -> None:
    frame = pl.DataFrame(
        {"pattern": ["drop_out"] * 2, "motion": ["hoist"] * 2, "start": [10.0, 20.0], "end": [10.5, 20.5]}
    ).with_columns(
        pl.from_epoch((pl.col("start", "end") * 1e6).cast(pl.Int64), time_unit="us").dt.replace_time_zone("UTC")
    )
    twice = pl.concat([frame, frame.head(1)])
    matches = accuracy.match(frame, twice, 0.01)
    assert len(matches.pairs) == 2
    assert len(matches.spurious) == 1
    moved = frame.with_columns(pl.col("end") + pl.duration(seconds=3))
    assert accuracy.match(frame, moved, 0.01).pairs == ()
