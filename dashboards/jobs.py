"""Work that takes longer than a page waits: done in the background, one piece at a time, watched and stopped there.

A piece of work is known by a key and is a function of what lies on disk: after a restart, or asked for by another
worker, it is simply done again.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any, Final

KEPT: Final = 8
"""Results that are held; the one that was asked for longest ago goes first."""

Tell = Callable[[str], None]


class StoppedError(Exception):
    """The work was stopped from the page."""


@dataclass
class Job:
    """One piece of work."""

    stage: str = "waiting"
    """What it does now, in a word or two."""
    ended: threading.Event = field(default_factory=threading.Event)
    result: Any = None
    fault: Exception | None = None
    """What ended it; StoppedError where it was stopped."""
    stopping: bool = False

    @property
    def done(self) -> bool:
        """Whether it has ended, well or not."""
        return self.ended.is_set()


@dataclass
class Jobs:
    """All work of one server; `workers` pieces are done at a time (a review uses every core by itself)."""

    workers: int = 1
    _jobs: OrderedDict[Hashable, Job] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _pool: ThreadPoolExecutor | None = None

    def start(self, key: Hashable, work: Callable[[Tell], Any]) -> Job:
        """Begins a piece of work, or finds the one of this key; one that failed is begun anew."""
        with self._lock:
            job = self._jobs.get(key)
            if job is None or job.fault is not None:
                job = self._jobs[key] = Job()
                self._pool = self._pool or ThreadPoolExecutor(self.workers, thread_name_prefix="review")
                self._pool.submit(self._run, job, work)
            self._jobs.move_to_end(key)
            self._forget()
            return job

    def find(self, key: Hashable) -> Job | None:
        """The work of a key, if there is any."""
        with self._lock:
            job = self._jobs.get(key)
            if job is not None:
                self._jobs.move_to_end(key)
            return job

    def stop(self, key: Hashable) -> None:
        """Asks a piece of work to end at its next stage."""
        with self._lock:
            if (job := self._jobs.get(key)) is not None and not job.done:
                job.stopping = True
                job.stage = "stopping"

    def _run(self, job: Job, work: Callable[[Tell], Any]) -> None:
        def tell(stage: str) -> None:
            if job.stopping:
                raise StoppedError
            job.stage = stage

        try:
            tell("beginning")
            result = work(tell)
            if job.stopping:
                raise StoppedError
            job.result = result
        except Exception as fault:  # whatever it is, the page tells it: nobody else would
            job.fault = fault
        finally:
            job.ended.set()

    def _forget(self) -> None:
        """Lets go of the oldest results; work that is going on is kept."""
        ended = [key for key, job in self._jobs.items() if job.done]
        for key in ended[: max(0, len(ended) - KEPT)]:
            del self._jobs[key]
