"""How often a review goes over its tables: a short log costs what each pass costs before its first row, a long one what
each row costs.

No time is measured, which other programs would disturb: passes and rows are counted.
"""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Event
from typing import Any

import numpy as np
import polars as pl
import pytest

from eventlens import schema
from eventlens.causes.evidence import _presence
from eventlens.causes.subject import Subject
from eventlens.duty.groups import HOIST_MOTORS
from eventlens.life.heat import HeatModel, HeatParameters, heat
from eventlens.motion import build_runs, states
from eventlens.motion.runs import RunParameters
from eventlens.result import Review
from eventlens.wiring import review_log
from tests.causes.stories import loose_relay
from tests.logs import Records, merged, run
from tests.patterns.helpers import M5, logged

ROWS = [0]
"""Rows of all tables that were gone over, each as often as it was."""
PASSES = ("filter", "select", "with_columns", "sort", "join", "join_asof", "group_by", "__init__")


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Counts the passes over frames, and the frames that are made of Python values."""
    counted: Counter[str] = Counter()

    def count(name: str) -> None:
        passed: Callable[..., Any] = getattr(pl.DataFrame, name)

        def counting(*args: Any, **named: Any) -> Any:
            counted[name] += 1
            if name != "__init__":
                ROWS[0] += args[0].height
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
    assert 10 < passes.total() < 360, passes  # counted here: 340


def test_life_is_found_in_few_passes(passes: Counter[str]) -> None:
    review = _reviewed(passes, merged(*loose_relay()))
    passes.clear()
    assert review.life["hoist"].running_h > 0
    assert 10 < passes.total() < 62, passes  # counted here: 56, and 71 where starts and days were found anew


def test_a_pattern_is_looked_up_once_for_all_complaints(monkeypatch: pytest.MonkeyPatch) -> None:
    looked, seen = Counter[str](), _presence._seen

    def counting(subject: Subject, *what: Any) -> Any:
        looked[str(what)] += 1
        return seen(subject, *what)

    monkeypatch.setattr(_presence, "_seen", counting)
    jogs = [run(3500.0 + n, 3500.4 + n) for n in range(6)]
    diagnosis = review_log(logged(merged(*loose_relay(), *jogs)), M5).causes
    assert len([answer for answer in diagnosis.answers if answer.motion == "hoist"]) > 1
    assert set(looked.values()) == {1}, looked


def test_what_two_threads_ask_of_a_log_is_found_once() -> None:
    subject = review_log(logged(run(1, 3)), M5).subject
    asked, again, made = Event(), Event(), []

    def make(_: Subject) -> int:
        made.append(1)
        if len(made) > 1:
            again.set()
        asked.set()
        again.wait(0.3)  # time enough for the other thread to begin too, if nothing held it back
        return len(made)

    def other() -> int:
        assert asked.wait(60)
        return subject.once("a question", make)

    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(other)
        assert (subject.once("a question", make), waiting.result()) == (1, 1)
    assert made == [1]


def _rows_for_each_event(days: int) -> float:
    """How many rows a review with its causes and its life goes over for each event of a log of the same work."""
    work = [run(200.0 * n + 1000.0 * (n % 3), 200.0 * n + 1000.0 * (n % 3) + 5) for n in range(0, 400 * days, 6)]
    log = logged(merged(*work))
    ROWS[0] = 0
    review = review_log(log, M5)
    assert review.causes is not None
    assert review.life
    return ROWS[0] / log.events.height


def test_each_event_costs_the_same_in_a_long_log(passes: Counter[str]) -> None:
    short, long = _rows_for_each_event(2), _rows_for_each_event(16)
    assert 10 < long < 72  # counted here: 65
    assert long == pytest.approx(short, rel=0.1)


def test_pictures_of_the_whole_are_looked_for_only_where_a_state_repeats(monkeypatch: pytest.MonkeyPatch) -> None:
    """To look for them goes over all events, and a log of changes only has hardly ever a record that repeats."""
    looked, look = [0], states._shown_together

    def counting(*args: Any) -> pl.Series:
        looked[0] += 1
        return look(*args)

    monkeypatch.setattr(states, "_shown_together", counting)
    plain = logged(run(1, 3))
    states.build_states(plain.events, plain.segments, plain.signals())
    assert looked == [0]
    again = logged(merged(run(1, 3), [(2.0, "hoist.raise.contactor", 1.0)]))
    states.build_states(again.events, again.segments, again.signals())
    assert looked == [1]


def test_each_run_looks_few_times_for_what_belongs_to_it(passes: Counter[str]) -> None:
    """What was on at its start and what comes next are found in one search; a search goes over all runs and states."""
    ways = [
        run(60.0 * n + t, 60.0 * n + t + 5, way, fast=(60.0 * n + t + 1, 60.0 * n + t + 4))
        for n in range(9)
        for t, way in ((1, "raise"), (31, "lower"))
    ]
    log = logged(merged(*ways))
    known = states.build_states(log.events, log.segments, log.signals())
    passes.clear()
    build_runs(known, log.events.clear(), RunParameters(), log.step_s)
    assert 4 < passes["join_asof"] < 21, passes  # counted here: 18, and 24 where each side is looked for by itself


def test_kinds_of_work_load_no_large_library() -> None:
    """scikit-learn takes about a second to load, as long as the rest of a short review."""
    script = """
import sys
from eventlens.duty.kinds import kinds_of_work
from tests.duty.test_kinds import two_kinds
assert kinds_of_work(two_kinds(), 3200.0).table.height >= 2
assert "sklearn" not in sys.modules
"""
    subprocess.run([sys.executable, "-c", script], check=True, timeout=300, cwd=Path(__file__).parents[1])


def test_heat_is_summed_over_each_run_a_few_times(monkeypatch: pytest.MonkeyPatch) -> None:
    """The end of each stretch is looked for nearby: else time grows with the square of the runs."""
    summed, cumsum = [0], np.cumsum

    def counting(values: Any, *args: Any, **named: Any) -> Any:
        summed[0] += np.size(values)
        return cumsum(values, *args, **named)

    count = 20_000
    begun = pl.Series([3_600_000_000 * n for n in range(count)], dtype=pl.Int64)
    runs = pl.DataFrame({"start": begun.cast(schema.TIME), "end": (begun + 10_000_000).cast(schema.TIME)})
    monkeypatch.setattr(np, "cumsum", counting)
    rated = HOIST_MOTORS["M5"]
    heat(runs.with_columns(start_seen=pl.lit(value=True)), HeatModel.of(rated, HeatParameters()))
    assert summed[0] < 12 * count, summed  # counted here: 6 times
