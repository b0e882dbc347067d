"""Processes of this computer: the same rows as one by one, byte for byte, whatever dies; limits of time and memory."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from eventlens import Archive, EventlensError
from eventlens.archive.spans import Spans
from eventlens.archive.weeks import State, Wanted
from eventlens.fleet import run, tasks
from eventlens.fleet.executor import Outcome, Work
from eventlens.fleet.pool import Pool
from eventlens.fleet.result import Fleet
from eventlens.fleet.run import review_all
from eventlens.fleet.tasks import planned
from eventlens.fleet.work import review
from eventlens.report.fleet import render
from tests.fleet import stories
from tests.fleet.stories import GOOD, MIXED, POISON, WEEKS


def fleet(place: Path, work: Work, machines: Sequence[str] | None = None, **limits: Any) -> Fleet:
    with closing(Pool(2, work=work, **limits)) as pool:
        return review_all(place, pool, machines=machines)


def healthy(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.filter(pl.col("machine") != POISON)


def test_the_same_as_one_by_one(place: Path, one_by_one: Path) -> None:
    found = fleet(place, stories.counted)
    assert stories.rows(place).equals(stories.rows(one_by_one))
    assert found.machines.select("machine", "periods", "made", "kept", "failed").rows() == [
        ("DOCK-5", 2, 2, 0, 0),
        ("KILN-2", 2, 2, 0, 0),
        (MIXED, 2, 2, 0, 1),
        (POISON, 1, 1, 0, 0),
    ]
    assert [row[:2] for row in found.errors.rows()] == [(MIXED, "2026-W15")]
    assert "wanted dumps of the period that were added with one profile, got 2" in found.errors["why"][0]

    for done in place.parent.glob("did *"):
        done.unlink()
    again = fleet(place, stories.counted)
    assert list(place.parent.glob("did *")) == []  # nothing is done twice
    assert again.machines["kept"].to_list() == [2, 2, 2, 1]
    assert again.to_dict()["findings"] == found.to_dict()["findings"]
    assert again.errors.equals(found.errors)


def test_a_log_that_kills_and_a_worker_that_is_killed_cost_no_more_than_their_task(
    place: Path, one_by_one: Path
) -> None:
    found = fleet(place, stories.deadly)
    assert (place.parent / "killed once").exists()
    assert healthy(stories.rows(place)).equals(healthy(stories.rows(one_by_one)))
    poisoned = found.errors.filter(pl.col("machine") == POISON)
    assert poisoned["period"].to_list() == [WEEKS[0]]
    assert "got its process was killed (SIGKILL), once more when it was tried alone; see whether" in poisoned["why"][0]
    # it is kept: trends say it instead of dying of it
    assert any(f"{POISON} 2026-W14: not reviewed, wanted a review of" in note for note in Archive(place).trends().notes)
    assert [task.machine for task in planned(place).tasks] == []
    assert {task.machine for task in planned(place, retry=True).tasks} == {MIXED, POISON}


def test_a_log_that_takes_for_ever(place: Path) -> None:
    found = fleet(place, stories.endless, machines=[POISON], limit_s=1.5)
    assert found.errors["period"].to_list() == [WEEKS[0]]
    assert all("got none within 1.5 s; allow it more" in why for why in found.errors["why"])


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="the system does not say what a process holds")
def test_a_log_that_takes_too_much(place: Path, one_by_one: Path) -> None:
    found = fleet(place, stories.greedy, machines=["DOCK-5", POISON], memory=550 << 20)
    assert found.errors.select("machine", "period").rows() == [(POISON, WEEKS[0])]
    assert all("GB, of 0.54 allowed; allow it more" in why for why in found.errors["why"])
    mine = pl.col("machine") == "DOCK-5"
    assert stories.rows(place).filter(mine).equals(stories.rows(one_by_one).filter(mine))


def test_a_worker_without_the_archive_says_so_and_nothing_is_kept(place: Path) -> None:
    found = fleet(place, stories.broken)
    assert found.errors.height == 7
    assert all("an archive" in why and why.startswith("on ") for why in found.errors["why"])
    assert found.machines.select("made", "kept", "failed").unique().sort("failed").rows() == [(0, 0, 1), (0, 0, 2)]
    assert len(planned(place).tasks) == 7


def test_a_machine_whose_periods_cannot_be_told(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(state: State, folder: Path, spans: Spans) -> list[Wanted]:
        if MIXED in set(state.ledger["machine"]):
            raise EventlensError("a profile that can be read", "none", "add the dumps again")
        return []

    monkeypatch.setattr(tasks, "wanted", refused)
    found = fleet(place, review)
    assert found.errors.rows() == [(MIXED, "", "wanted a profile that can be read, got none; add the dumps again.")]
    assert found.machines.select("machine", "periods", "failed").rows() == [
        ("DOCK-5", 0, 0),
        ("KILN-2", 0, 0),
        (MIXED, 0, 1),
        (POISON, 0, 0),
    ]
    assert f"  {MIXED}: wanted a profile that can be read" in render(found)


def test_workers_that_can_do_nothing_at_all_end_the_run(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "HOPELESS", 3)
    with pytest.raises(
        EventlensError, match=r"wanted workers that can work on tasks, got none so far: on .* an archive"
    ):
        fleet(place, stories.broken)


class Slow:
    """An executor whose tasks end as it is told, to see what is asked of it."""

    def __init__(self) -> None:
        self.given: list[str] = []
        self.ahead = 1
        self._pool = Pool(1)

    def submit(self, task: stories.Task) -> None:
        self.given.append(str(task))
        self._pool.submit(task)

    def finished(self, wait_s: float) -> list[Outcome]:
        if len(self.given) > 4:
            raise EventlensError("a cluster", "none any more", "begin it again")
        return self._pool.finished(wait_s)

    def close(self) -> None:
        self._pool.close()


def test_what_was_done_before_the_work_had_to_end_is_kept(place: Path) -> None:
    with closing(Slow()) as slow, pytest.raises(EventlensError, match="wanted a cluster, got none any more"):
        review_all(place, slow)
    assert slow.given[:4] == [f"{machine} {week}" for machine in GOOD for week in WEEKS]
    assert stories.rows(place)["machine"].to_list() == [machine for machine in GOOD for _ in WEEKS]
    assert [str(task) for task in planned(place).tasks] == [
        *(f"{MIXED} {week}" for week in WEEKS),
        f"{POISON} {WEEKS[0]}",
    ]


class Lethal:
    """Ends the process that loads it."""

    def __reduce__(self) -> tuple[object, tuple[int]]:
        return os._exit, (7,)

    def __call__(self, task: stories.Task) -> stories.Reply:
        raise NotImplementedError


def test_processes_that_cannot_begin_end_the_run(place: Path) -> None:
    with pytest.raises(EventlensError, match="wanted processes that can be started, got one that ended with status 7"):
        fleet(place, Lethal())
    assert len(planned(place).tasks) == 7


def test_closing_ends_the_processes_whatever_they_do(place: Path) -> None:
    pool = Pool(2, work=stories.endless)
    for task in planned(place, machines=[POISON]).tasks * 2:
        pool.submit(task)
    processes = [slot.process for slot in pool._slots]
    assert len(processes) == 2
    assert pool.finished(0.0) == []
    pool.close()
    assert all(process.exitcode is not None for process in processes)


def test_processes_end_when_the_program_that_asked_is_killed(place: Path) -> None:
    code = (
        "import os, sys, time\n"
        "from pathlib import Path\n"
        "from eventlens.fleet.pool import Pool\n"
        "from eventlens.fleet.tasks import planned\n"
        "if __name__ == '__main__':\n"
        "    pool = Pool(1)\n"
        "    pool.submit(planned(sys.argv[1]).tasks[0])\n"
        "    while not pool.finished(1.0): pass\n"
        "    print(pool._slots[0].process.pid, flush=True)\n"
        "    os.kill(os.getpid(), 9)\n"
    )
    script = place.parent / "script.py"
    script.write_text(code)
    done = subprocess.run([sys.executable, script, place], capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == -signal.SIGKILL
    pid, until = int(done.stdout), time.monotonic() + 20
    while time.monotonic() < until and alive(pid):
        time.sleep(0.05)
    assert not alive(pid)


def alive(pid: int) -> bool:
    """Whether a process runs; one that has ended and that nobody has asked after does not."""
    try:
        return "State:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return False
