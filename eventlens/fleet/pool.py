"""Processes of this computer. Whichever dies takes its own task with it, is replaced, and nobody else notices.

A pool of `concurrent.futures` breaks as a whole when one of its processes dies, does not say on which task that was,
and cannot end one that runs away. Here each process has a pipe of its own: its end shows at once whose task it was.
"""

from __future__ import annotations

import os
import signal
import time
from collections import deque
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Final

from eventlens.errors import EventlensError
from eventlens.fleet.executor import LIMIT_S, Outcome, Reply, Work
from eventlens.fleet.process import READY, serve
from eventlens.fleet.tasks import Task
from eventlens.fleet.work import failed, review

LOOK_S: Final = 0.5
"""So often limits of memory are looked at [s]."""
LET_GO_S: Final = 5.0
"""So long a process may take to end by itself [s]."""


@dataclass
class _Slot:
    """One process, and what it works on."""

    process: SpawnProcess
    pipe: Connection
    ready: bool = False
    task: Task | None = None
    since: float = 0.0
    """When it began with it, on the clock that never goes back."""


class Pool:
    """An `Executor` of processes here.

    workers: how many; None: as many as cores. limit_s: time for one period. memory: bytes that a process may hold
    (Linux only; None: no limit).
    """

    def __init__(
        self, workers: int | None = None, *, limit_s: float = LIMIT_S, memory: int | None = None, work: Work = review
    ) -> None:
        self._workers = workers or os.cpu_count() or 1
        self._limit_s, self._memory, self._work = limit_s, memory, work
        self._slots: list[_Slot] = []
        self._waiting: deque[Task] = deque()

    @property
    def ahead(self) -> int:
        """Some for each process."""
        return 2 * self._workers

    def submit(self, task: Task) -> None:
        """Takes a task."""
        self._waiting.append(task)
        self._hand_out()

    def finished(self, wait_s: float) -> list[Outcome]:
        """The tasks that have ended, those that came to nothing among them."""
        busy = [slot for slot in self._slots if slot.task]
        spoke = wait([slot.pipe for slot in busy], min(wait_s, LOOK_S))
        found = [said for slot in busy if slot.pipe in spoke and (said := self._heard(slot))]
        found += self._beyond_limits()
        self._hand_out()
        return found

    def close(self) -> None:
        """Ends the processes."""
        for slot in self._slots:
            slot.pipe.close()  # one that waits for a task ends by this
            if slot.task:
                slot.process.kill()
        for slot in self._slots:
            _ended(slot.process)
        self._slots, self._waiting = [], deque()

    def _hand_out(self) -> None:
        while self._waiting:
            slot = next((slot for slot in self._slots if slot.task is None), None)
            if slot is None:
                if len(self._slots) == self._workers:
                    return
                slot = self._begin()
            slot.task, slot.since = self._waiting.popleft(), time.monotonic()
            with suppress(ConnectionError):  # it has just died: that is heard of next
                slot.pipe.send(slot.task)

    def _begin(self) -> _Slot:
        here, there = get_context("spawn").Pipe()
        process = get_context("spawn").Process(target=serve, args=(there,), daemon=True)
        process.start()
        there.close()  # so that the pipe ends with the process
        slot = _Slot(process, here)
        with suppress(ConnectionError):
            here.send(self._work)
        self._slots.append(slot)
        return slot

    def _heard(self, slot: _Slot) -> Outcome | None:
        """What came through a pipe: an answer, or its end."""
        task = slot.task
        assert task is not None
        try:
            said = slot.pipe.recv()
        except (EOFError, ConnectionError):
            return self._dead(slot, task)
        if said == READY:
            slot.ready, slot.since = True, time.monotonic()
            return None
        slot.task = None
        return Outcome(task, said)

    def _dead(self, slot: _Slot, task: Task) -> Outcome:
        status = self._drop(slot)
        if not slot.ready:
            raise EventlensError(
                "processes that can be started", f"one that {_how(status)} at once", "see what it says above"
            )
        said = f"its process {_how(status)}, once more when it was tried alone" if task.alone else _how(status)
        remedy = "see whether its dumps are what they should be, and whether there is memory enough for them"
        return Outcome(task, Reply(fault=failed(task, said, remedy)), died=True)

    def _beyond_limits(self) -> Iterator[Outcome]:
        """Ends what takes too long or too much."""
        now = time.monotonic()
        for slot in [slot for slot in self._slots if slot.task and slot.ready]:
            task = slot.task
            assert task is not None
            limit_s = self._limit_s * len(task.wanted)
            got = ""
            if now - slot.since > limit_s:
                got = f"none within {limit_s:g} s"
            elif self._memory and (held := _held(slot.process.pid)) > self._memory:
                got = f"a process that holds {held / 2**30:.2f} GB, of {self._memory / 2**30:.2f} allowed"
            if got:
                slot.process.kill()
                self._drop(slot)
                yield Outcome(task, Reply(fault=failed(task, got, "allow it more, or look at its dumps")))

    def _drop(self, slot: _Slot) -> int | None:
        self._slots.remove(slot)
        slot.pipe.close()
        return _ended(slot.process)


def _ended(process: SpawnProcess) -> int | None:
    """The status of a process that is to end."""
    process.join(LET_GO_S)
    if process.is_alive():
        process.kill()
        process.join()
    return process.exitcode


def _how(status: int | None) -> str:
    if status is not None and status < 0:
        name = signal.Signals(-status).name if -status in {*signal.Signals} else f"signal {-status}"
        return f"was killed ({name})"
    return f"ended with status {status}"


def _held(pid: int | None) -> int:
    """Bytes of memory that a process holds; 0 where the system does not say it in /proc."""
    try:
        pages = Path(f"/proc/{pid}/statm").read_text().split()[1]
    except (OSError, IndexError):
        return 0
    return int(pages) * os.sysconf("SC_PAGE_SIZE")
