"""The score against simulated truth in a small form: two seeds of every story, at a few steps and with every damage.

The whole table comes from the command in `accuracy.py`. Expected shares are the project's own aims; few truths a
pattern: one finding (or two in a hundred) may go astray, more than one in a hundred of all of them may not.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

import polars as pl
import pytest

from eventlens.simulation.truth import PATTERNS
from tests.benchmarks.accuracy import CLEAN, Plan, day
from tests.benchmarks.damage import DAMAGES
from tests.benchmarks.scores import Judged, table
from tests.benchmarks.stories import STORIES
from tests.shared import shared


@pytest.fixture(scope="module", params=[False, True], ids=["ordinary", "held out"])
def clean(request: pytest.FixtureRequest, common: Path) -> pl.DataFrame:
    return scored(common, range(100, 102), Plan((0.01, 0.02, 0.2), damages=(CLEAN,), held_out=request.param))


@pytest.fixture(scope="module")
def damaged(common: Path) -> pl.DataFrame:
    return scored(common, range(200, 201), Plan((0.01,), damages=DAMAGES), ("ordinary", "electrics", "crew"))


def scored(common: Path, seeds: Sequence[int], plan: Plan, stories: Sequence[str] = tuple(STORIES)) -> pl.DataFrame:
    """As `accuracy.run`, but that all workers of the tests do a part of the days."""
    machines = "other machines" if plan.held_out else "machines"
    tasks = [(story, seed) for seed in seeds for story in stories]
    days = {f"{machines}, {story}, {seed}": partial(day, (story, seed), plan) for story, seed in tasks}
    return table(Judged.together(shared(common, days)))


NOT_SIMULATED = {"clock_step"}
"""It is a damage. `unusual_period` needs weeks and is scored by `unusual.py`."""


def test_every_pattern_has_truths_to_find(clean: pl.DataFrame) -> None:
    assert set(clean.filter(pl.col("truths") > 0)["pattern"]) >= set(PATTERNS) - NOT_SIMULATED


def test_what_is_called_certain_is_right(clean: pl.DataFrame) -> None:
    wrong = clean.with_columns(wrong=pl.col("certain") - pl.col("certain_matched"))
    assert wrong.filter(pl.col("wrong") > (0.02 * pl.col("certain")).clip(1.0)).rows() == []
    assert wrong["wrong"].sum() <= 0.01 * wrong["certain"].sum()


def test_what_the_log_can_decide_is_found(clean: pl.DataFrame) -> None:
    fine = clean.filter(pl.col("step_s") <= 0.02).with_columns(missed=pl.col("decided") - pl.col("decided_matched"))
    assert fine.filter(pl.col("missed") > (0.02 * pl.col("decided")).clip(1.0)).rows() == []
    assert fine["missed"].sum() <= 0.01 * fine["decided"].sum()


def test_no_damage_makes_certain_faults(damaged: pl.DataFrame) -> None:
    wrong = damaged.with_columns(wrong=pl.col("certain") - pl.col("certain_matched"))
    assert wrong.filter(pl.col("wrong") > (0.02 * pl.col("certain")).clip(1.0)).rows() == []
    assert wrong["wrong"].sum() <= 0.02 * wrong["certain"].sum()
