"""Work spread over processes: spawned, each with one thread of Polars, results in the order of the tasks."""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar

T = TypeVar("T")
R = TypeVar("R")


def spread(work: Callable[[T], R], tasks: Sequence[T], workers: int) -> Iterator[R]:
    """The results of each task, as they are due; a line on stderr counts them. One worker: in this process."""
    if workers <= 1:
        results: Iterator[R] = map(work, tasks)
        yield from _counted(results, len(tasks))
        return
    os.environ["POLARS_MAX_THREADS"] = "1"  # read by the spawned processes when they load Polars
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        yield from _counted(pool.map(work, tasks), len(tasks))


def _counted(results: Iterator[R], whole: int) -> Iterator[R]:
    for number, result in enumerate(results, 1):
        if sys.stderr.isatty() or number % max(whole // 20, 1) == 0:
            print(f"{number} of {whole}", file=sys.stderr, end="\r" if sys.stderr.isatty() else "\n", flush=True)
        yield result
