"""A Dask cluster that is there already: `Client` of distributed, which is installed with the extra `cluster`.

The scheduler gives tasks that a dead worker had to another one, and gives up on a task after some deaths
(`distributed.scheduler.allowed-failures`); the nanny beside each worker begins a new one.
"""

from __future__ import annotations

import faulthandler
import queue
import sys
import time
from collections.abc import Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager, suppress
from typing import Any, Final

from eventlens.archive.weeks import program
from eventlens.errors import EventlensError
from eventlens.fleet.executor import LIMIT_S, Outcome, Reply, Work
from eventlens.fleet.tasks import Task
from eventlens.fleet.work import failed, review

PATIENCE_S: Final = 60.0
"""So long a cluster may be without workers [s]: a nanny begins a new one within a few seconds."""
CONNECT_S: Final = 10.0
"""So long a scheduler may take to answer at first [s]."""
LOOK_S: Final = 5.0
"""So often it is asked whether there are any [s]."""


class Cluster:
    """An `Executor` on the workers of a scheduler.

    address: of the scheduler, as tcp://10.0.0.5:8786. limit_s: time for one period, held where a worker has one thread.
    patience_s: how long there may be no worker. EventlensError where it cannot be reached.
    """

    def __init__(
        self, address: str, *, limit_s: float = LIMIT_S, patience_s: float = PATIENCE_S, work: Work = review
    ) -> None:
        self._address, self._limit_s, self._patience_s, self._work = address, limit_s, patience_s, work
        self._client: Any = _client(address)
        self._ended: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._under_way: dict[str, tuple[Any, Task]] = {}
        self._number, self._looked, self._seen = 0, 0.0, time.monotonic()
        self._threads = 0
        try:
            self._same_program()
        except BaseException:
            self.close()
            raise

    @property
    def ahead(self) -> int:
        """Some for each thread; the scheduler keeps those that no worker has begun."""
        return max(4, 3 * self._threads)

    def submit(self, task: Task) -> None:
        """Takes a task."""
        self._number += 1
        key = f"review-{self._number}-{task}"
        limit_s = self._limit_s * len(task.wanted)
        with self._there():
            future = self._client.submit(bounded, self._work, task, limit_s, key=key, pure=False)
        self._under_way[key] = future, task
        future.add_done_callback(self._ended.put)

    def finished(self, wait_s: float) -> list[Outcome]:
        """The tasks that have ended."""
        found = []
        with self._there():
            with suppress(queue.Empty):
                found.append(self._outcome(self._ended.get(timeout=wait_s)))
                while True:
                    found.append(self._outcome(self._ended.get_nowait()))
            self._look()
        return found

    def close(self) -> None:
        """Takes back what is not done, and leaves the cluster as it was."""
        with suppress(Exception):  # it may be gone
            self._client.cancel([future for future, _ in self._under_way.values()])
        self._under_way = {}
        self._client.close(timeout=5)

    def _outcome(self, future: Any) -> Outcome:
        from distributed import KilledWorker

        task = self._under_way.pop(future.key)[1]
        if future.status == "finished":
            return Outcome(task, future.result())
        if future.status != "error":
            raise self._gone(f"a task that is {future.status}")
        fault = future.exception()
        if isinstance(fault, KilledWorker):
            deaths = fault.allowed_failures + 1
            got = f"{deaths} worker{'s' if deaths > 1 else ''} that died of it, or ran out of time or memory"
            remedy = f"see the log of {fault.last_worker.address}, and whether its dumps are what they should be"
            return Outcome(task, Reply(fault=failed(task, got, remedy)), died=True)
        got = f"{type(fault).__name__}: {fault}"
        remedy = "install the same eventlens and Python packages on each worker"
        return Outcome(task, Reply(fault=failed(task, got, remedy), lasting=False))

    def _same_program(self) -> None:
        """EventlensError unless there are workers, and each has this version of eventlens."""
        try:
            self._client.wait_for_workers(1, timeout=self._patience_s)
        except TimeoutError:
            raise self._gone(f"none within {self._patience_s:g} s") from None
        for worker, said in self._client.run(program, on_error="return").items():
            if said != program():
                got = f"{said!r} on {worker}" if isinstance(said, BaseException) else f"{said} on {worker}"
                raise EventlensError(f"eventlens {program()} on each worker", got, "install the same on all of them")
        self._look()

    def _look(self) -> None:
        """Counts the workers now and then; EventlensError where there have been none for too long."""
        now = time.monotonic()
        if now - self._looked < LOOK_S:
            return
        self._looked = now
        if self._client.status != "running":
            raise self._gone("none any more")
        self._threads = sum(self._client.nthreads().values())
        if self._threads:
            self._seen = now
        elif now - self._seen > self._patience_s:
            raise self._gone(f"none for {self._patience_s:g} s")

    @contextmanager
    def _there(self) -> Iterator[None]:
        """Turns what the client says of a scheduler that has gone meanwhile into one sentence."""
        from distributed.client import ClosedClientError

        try:
            yield
        except (OSError, CancelledError, ClosedClientError) as fault:
            said = " ".join(str(fault).split())[:200]
            raise self._gone(f"'{said or type(fault).__name__}'") from None

    def _gone(self, got: str) -> EventlensError:
        remedy = "begin it again and call once more: what was done is kept"
        return EventlensError(f"a cluster with workers at {self._address}", got, remedy)


def bounded(work: Work, task: Task, limit_s: float) -> Reply:
    """On a worker: the work; where it takes longer, and nothing else runs in this process, the process ends.

    The clock of `faulthandler` runs whatever the work does, and says on stderr where it was.
    """
    if not _one_thread():
        return work(task)
    faulthandler.dump_traceback_later(limit_s, exit=True, file=sys.__stderr__ or sys.stderr)
    try:
        return work(task)
    finally:
        faulthandler.cancel_dump_traceback_later()


def _one_thread() -> bool:
    from distributed import get_worker

    return bool(get_worker().state.nthreads == 1)


def _client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError:
        raise EventlensError(
            "the package distributed for a cluster", "none", "pip install 'eventlens[cluster]'"
        ) from None
    try:
        connect: Any = Client  # it has no types
        return connect(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, ValueError) as fault:  # TimeoutError is an OSError
        got = f"'{address}': {' '.join(str(fault).split())[:200]}"
        raise EventlensError(
            "the address of a Dask scheduler as tcp://10.0.0.5:8786", got, "see whether it runs and can be reached"
        ) from None
