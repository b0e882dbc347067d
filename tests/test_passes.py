"""How often a review goes over its tables: a short log costs what each pass costs before its first row.

No time is measured, which no other program disturbs: the passes are counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

import polars as pl
import pytest

from eventlens.result import Review
from eventlens.wiring import review_log
from tests.causes.stories import loose_relay
from tests.logs import Records, merged, run
from tests.patterns.helpers import M5, logged

PASSES = ("filter", "select", "with_columns", "sort", "join", "join_asof", "group_by", "__init__")


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Counts the passes over frames, and the frames that are made of Python values."""
    counted: Counter[str] = Counter()

    def count(name: str) -> None:
        passed: Callable[..., Any] = getattr(pl.DataFrame, name)

        def counting(*args: Any, **named: Any) -> Any:
            counted[name] += 1
            return passed(*args, **named)

        monkeypatch.setattr(pl.DataFrame, name, counting)

    for name in PASSES:
        count(name)
    return counted


def _reviewed(passes: Counter[str], records: Records) -> Review:
    log = logged(records)
    passes.clear()
    return review_log(log, M5)


def test_a_log_of_one_run_is_gone_over_few_times(passes: Counter[str]) -> None:
    _reviewed(passes, run(1, 3))
    assert 100 < passes.total() < 660, passes  # counted here: 600, and 2800 where nothing was shared or left off


def test_a_log_of_some_runs_is_gone_over_hardly_more_often(passes: Counter[str]) -> None:
    _reviewed(passes, merged(*loose_relay()))
    assert 100 < passes.total() < 860, passes  # counted here: 779


def test_causes_are_found_in_few_passes(passes: Counter[str]) -> None:
    review = _reviewed(passes, merged(*loose_relay()))
    passes.clear()
    assert review.causes.answers
    assert 10 < passes.total() < 375, passes  # counted here: 339
