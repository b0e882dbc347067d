"""Inputs of the logger that keep their state while the machine works on.

The span is that of the runs which should have moved the signal after its input froze. A log can decide it where so many
of them without a change are improbable: by the share of earlier runs with a change, at the lower 97.5 % limit of that
share, and below one in a thousand for all signals together.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence

from eventlens.signals import MOTIONS
from eventlens.simulation.ideal.intervals import OPEN, Interval, View
from eventlens.simulation.truth import Span

LEAST_RUNS = 20
FALSE_ALARM = 0.001
LEVEL = 0.025
BEFORE_S = 2.0
"""A command comes before its run."""
CLUSTER_S = 8 * 3600.0
"""Limits and devices operate in clusters: one in so long counts."""


def inputs(
    view: View, carried: Sequence[str], stretches: Sequence[Interval], since_h: Mapping[str, float]
) -> Iterator[Span]:
    """The input of each signal that froze, where the machine went on to change it."""
    for signal, hour in since_h.items():
        since, motion = hour * 3600.0, signal.split(".")[0]
        if signal not in carried or motion not in MOTIONS:
            continue
        changes = [at for interval in view.on(signal) for at in interval if 0.0 < at < OPEN]
        way = signal.split(".")[1]
        runs = [
            (start, end)
            for start, end, direction in view.contactors(motion)
            if end < OPEN and (way == direction or way not in MOTIONS[motion])
            if any(a <= start and end <= b for a, b in stretches)
        ]
        row = [run for run in runs if run[0] >= since]
        if row and changes and changes[-1] > since:
            sure = _decides(signal, runs, row, [at for at in changes if at < since], len(carried))
            yield Span("frozen_signal", motion, row[0][0], row[-1][1], None if sure else 0.0)


def _decides(
    signal: str, runs: Sequence[Interval], row: Sequence[Interval], changes: Sequence[float], judged: int
) -> bool:
    """Whether a log shows it: judged is the number of signals among which the false alarms are shared."""
    before = runs[: len(runs) - len(row)]
    ends = [*(start - BEFORE_S for start, _ in before[1:]), row[0][0] - BEFORE_S]
    moved = [
        start
        for (start, _), end in zip(before, ends, strict=True)
        if bisect_left(changes, end) > bisect_left(changes, start - BEFORE_S)
    ]
    if len(row) < LEAST_RUNS or not moved:
        return len(row) >= LEAST_RUNS and signal.endswith(".brake.released")
    every_run = any(kind in signal for kind in (".command", ".fast.", ".brake."))
    count = len(moved) if every_run else len({int(at // CLUSTER_S) for at in moved})
    rate = _lowest(count, len(before))
    return (len(moved) + 1) * (1.0 - rate) ** len(row) < FALSE_ALARM / judged


def _lowest(count: int, tries: int) -> float:
    """The share at which `count` or more of `tries` have the probability LEVEL: found by halving."""
    low, high = 0.0, 1.0
    for _ in range(50):
        share = (low + high) / 2
        if share and _at_least(count, tries, share) < LEVEL:
            low = share
        else:
            high = share
    return low


def _at_least(count: int, tries: int, share: float) -> float:
    def part(k: int) -> float:
        ways = math.lgamma(tries + 1) - math.lgamma(k + 1) - math.lgamma(tries - k + 1)
        return math.exp(ways + k * math.log(share) + (tries - k) * math.log1p(-share))

    return math.fsum(part(k) for k in range(count, tries + 1)) if share < 1.0 else 1.0
