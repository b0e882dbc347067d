"""What else is done with such a log: what its page asks for, and its way through an archive. Each comes to the numbers
of the review, and says the CPU seconds of its stages."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import eventlens
from tests.benchmarks.beside.log import BEGIN
from tests.benchmarks.beside.numbers import Numbers
from tests.benchmarks.beside.ours import numbers_of

PIXELS = 1320
"""Bins of a wide screen."""
ZOOMS = 8
"""Each shows a quarter of the one before."""


class _Stages:
    """CPU seconds of what was done in turn."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = {}

    def time(self, stage: str, do: Callable[[], Any]) -> Any:
        begun = time.process_time()
        done = do()
        self.spent[stage] = self.spent.get(stage, 0.0) + time.process_time() - begun
        return done


def page(log: Path) -> tuple[Numbers, dict[str, float]]:
    """What the page of the review asks of its data, from the whole log to a fraction of a second."""
    from dashboards.data import Week  # the page's part; no page and no browser

    stages = _Stages()
    done = stages.time(
        "review", lambda: eventlens.review(log, log.parent / "profile.toml", log.parent / "machine.toml")
    )
    week = stages.time("page made ready", lambda: Week(done))
    start, end = week.whole
    stages.time("whole log in lanes", lambda: week.lanes.view(week.whole, PIXELS))
    for _ in range(ZOOMS):
        start, end = start + (end - start) * 3 / 8, end - (end - start) * 3 / 8
        stages.time(f"{ZOOMS} zooms", lambda: week.lanes.view((start, end), PIXELS))  # noqa: B023  # done at once
    rows = stages.time("findings", week.findings.rows)
    stages.time("occurrences of each", lambda: [week.findings.occurrences(row["key"], 0) for row in rows])
    stages.time("starts per hour", lambda: week.duty.starts_per_hour("hoist"))
    stages.time("cyclic duration", lambda: week.duty.cyclic_duration("hoist"))
    stages.time("measured times", lambda: week.spreads)
    return numbers_of(done), stages.spent


def archive(log: Path) -> tuple[Numbers, dict[str, float]]:
    """Into an archive and out of it: all of it, an hour of its events, and a day's review."""
    stages, folder = _Stages(), log.parent / "kept"
    shutil.rmtree(folder, ignore_errors=True)
    kept = eventlens.Archive(folder)
    stages.time("add", lambda: kept.add(log, log.parent / "machine.toml", log.parent / "profile.toml"))
    machine = kept.only()
    hour = BEGIN + timedelta(hours=1), BEGIN + timedelta(hours=2)
    stages.time("an hour of events", lambda: kept.events(machine, *hour))
    stages.time("a day's review", lambda: kept.review(machine, BEGIN, BEGIN + timedelta(days=1)))
    done = stages.time("review of all", lambda: kept.review(machine))
    shutil.rmtree(folder)
    return numbers_of(done), stages.spent
