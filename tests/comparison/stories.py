"""Small logs of a hoist before and after a repair, written by hand."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from eventlens.reading.log import Log
from eventlens.result import Review
from eventlens.wiring import review_log
from tests.logs import HOIST, Records, make_log, merged, off, run
from tests.patterns.helpers import M5

EVERY_S = 120.0
"""A run every two minutes: 30 in the hour, so that the faults of different hours are no burst."""


def work(
    runs: int, faults: Collection[int] = (), direction: str = "raise", begin: float = 0.0, every_s: float = EVERY_S
) -> Records:
    """So many runs of 5 s; those whose number is among the faults drop out after 1 s under a held command."""
    parts = []
    for number in range(runs):
        start = begin + 10 + number * every_s
        if number in faults:
            parts.append(
                run(start, start + 1, direction, command=(start - 0.05, start + 5), brake=(start + 0.1, start + 0.9))
            )
        else:
            parts.append(run(start, start + 5, direction))
    return merged(*parts)


def spaced(faults: int, runs: int, first: int = 3) -> set[int]:
    """So many numbers of runs, evenly apart."""
    return {first + number * runs // faults for number in range(faults)} if faults else set()


def log_of(*parts: Records, begin: float = 0.0, end: float | None = None, **options: Any) -> Log:
    """A log of these records that begins with every signal off; it ends a minute after the last of them."""
    first = [(begin, name, value) for _, name, value in off(*HOIST)]
    records = merged(first, *parts)
    return make_log(records, begin=begin, end=records[-1][0] + 60 if end is None else end, **options)


def side(runs: int, faults: int, begin: float = 0.0, **options: Any) -> Review:
    """The review of so many raises with so many drop-outs among them, evenly apart."""
    every_s = options.pop("every_s", EVERY_S)
    return review_log(log_of(work(runs, spaced(faults, runs), begin=begin, every_s=every_s), begin=begin), M5)
