"""Runs independent pieces of work side by side in threads; Polars and NumPy compute without holding the interpreter."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeVar

T = TypeVar("T")
R = TypeVar("R")


FEW: Final = 20_000
"""Rows up to which one thread is quicker than several, which wait for each other (measured on two cores)."""


def in_threads(function: Callable[[T], R], items: Iterable[T], rows: int) -> list[R]:
    """function of each item, in the order of the items whatever finishes first; the first exception is raised.

    rows: of the tables that are worked on; where they are FEW, one after the other.
    """
    work = list(items)
    if rows <= FEW or len(work) < 2:
        return [function(item) for item in work]
    with ThreadPoolExecutor(min(len(work), os.cpu_count() or 1)) as pool:
        return list(pool.map(function, work))


def both(one: Callable[[], T], other: Callable[[], R], rows: int) -> tuple[T, R]:
    """The results of two functions that run side by side; of FEW rows one after the other."""
    if rows <= FEW:
        return one(), other()
    with ThreadPoolExecutor(1) as pool:
        begun = pool.submit(one)
        there = other()
        return begun.result(), there
