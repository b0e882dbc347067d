"""A small archive of several machines, and workers that die of one of them."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import polars as pl

from eventlens import Archive
from eventlens.archive.tables import PERIODS, REVIEWS
from eventlens.archive.weeks import stored
from eventlens.fleet.executor import Reply
from eventlens.fleet.tasks import Task
from eventlens.fleet.work import review
from eventlens.schema import Table
from tests.archive.stories import lines, write

GOOD = ("DOCK-5", "KILN-2")
MIXED = "MIXED-1"
"""Its second week has dumps that were added with different profiles: no review, one sentence."""
POISON = "POISON-1"
"""One week; with `deadly`, `endless` and `greedy` its log ends whatever reads it."""
FOR_EVER_S = 60
"""Much longer than what ends it; then a test fails instead of waiting."""
WEEKS = ("2026-W14", "2026-W15")
"""Of the night of 31 March and that of 7 April 2026 (Tuesdays); counted in a calendar."""


def night(path: Path, days_later: int = 0) -> Path:
    """Nine runs in the evening of 31 March, or as many days later."""
    day = f"2026-04-{days_later:02}" if days_later else "2026-03-31"
    return write(path, [line.replace("2026-03-31", day) for line in lines(9)])


def make(folder: Path, machines: tuple[str, ...] = (*GOOD, MIXED, POISON)) -> Path:
    """An archive of these machines, two weeks each, and one of POISON."""
    archive, profile = Archive(folder / "history"), folder / "p.toml"
    profile.write_text('[log]\ntimezone = "UTC"\n')
    early, late, other = night(folder / "a.csv"), night(folder / "b.csv", 7), night(folder / "c.csv", 8)
    for machine in machines:
        archive.add([early] if machine == POISON else [early, late], machine)
        if machine == MIXED:
            archive.add(other, machine, profile)
    return folder / "history"


def rows(place: Path, table: Table = REVIEWS) -> pl.DataFrame:
    """What is stored, but for when it was made."""
    return stored(Archive(place).lake, table=table).drop("made")


def periods(place: Path) -> pl.DataFrame:
    """The same of other periods than weeks."""
    return rows(place, PERIODS)


def deadly(task: Task) -> Reply:
    """As `review`, but that the log of POISON kills its worker each time, and one of KILN-2 the first time."""
    once = Path(task.archive).parent / "killed once"
    if task.machine == POISON or (task.machine == GOOD[1] and not once.exists()):
        once.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return review(task)


def beheading(task: Task) -> Reply:
    """As `review`, but that POISON ends the scheduler, some seconds after what was done before it is told."""
    if task.machine == POISON:
        time.sleep(4)
        os.kill(int((Path(task.archive).parent / "scheduler").read_text()), signal.SIGKILL)
        time.sleep(FOR_EVER_S)
    return review(task)


def endless(task: Task) -> Reply:
    """As `review`, but that POISON takes for ever."""
    if task.machine == POISON:
        time.sleep(FOR_EVER_S)
    return review(task)


def greedy(task: Task) -> Reply:
    """As `review`, but that POISON takes eight hundred megabytes more, and then for ever."""
    if task.machine == POISON:
        held = bytearray(800 << 20)
        held[:: 1 << 12] = b"x" * len(held[:: 1 << 12])  # each page is touched
        time.sleep(FOR_EVER_S)
    return review(task)


def broken(task: Task) -> Reply:
    """As `review`, but that it is a worker without the archive."""
    return review(Task(**{**vars(task), "archive": f"{task.archive} elsewhere"}))


def counted(task: Task) -> Reply:
    """As `review`; leaves a file for each period that was reviewed."""
    for one in task.wanted:
        (Path(task.archive).parent / f"did {task.machine} {one.period}").touch()
    return review(task)
