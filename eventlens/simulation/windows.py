"""The truth about duty: when any hour held too many starts, when any ten minutes held too much running.

Counted plainly and slowly from exact contactor times, and shared with nothing that the review uses.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from types import MappingProxyType
from typing import Final

STARTS_PER_HOUR: Final = MappingProxyType({"M3": 150, "M4": 180, "M5": 240, "M6": 300})
"""Most starts in an hour of a hoist motor by group (FEM 9.683)."""
CYCLIC_SHARE: Final = MappingProxyType({"M3": 0.25, "M4": 0.30, "M5": 0.40, "M6": 0.50})
"""Largest cyclic duration factor of a hoist motor by group (FEM 9.683)."""


def of_starts(starts: Sequence[float], limit: int) -> list[tuple[float, float]]:
    """Union of the windows (t - 3600 s, t] over the starts t whose window holds more than `limit` starts."""
    ordered = sorted(starts)
    windows = []
    for t in ordered:
        if bisect_right(ordered, t) - bisect_right(ordered, t - 3600.0) > limit:
            windows.append((t - 3600.0, t))
    return _union(windows)


def of_running(runs: Sequence[tuple[float, float]], share: float) -> list[tuple[float, float]]:
    """Union of the windows (t - 600 s, t], over all instants t, of which more than `share` was running.

    The running time in the window is linear between instants at which a run begins or ends at either of its ends; it
    is added up afresh at each of these, and the instants of excess are found between them.
    """
    ordered = sorted(runs)
    ends = [end for _, end in ordered]
    instants = sorted({moment + shift for run in ordered for moment in run for shift in (0.0, 600.0)})
    most = share * 600.0

    def running(t: float) -> float:
        total, number = 0.0, bisect_left(ends, t - 600.0)
        while number < len(ordered) and ordered[number][0] < t:
            total += min(t, ordered[number][1]) - max(t - 600.0, ordered[number][0])
            number += 1
        return total

    windows = []
    before: tuple[float, float] | None = None
    for t in instants:
        now = running(t)
        if before is not None and max(before[1], now) > most:
            t0, r0 = before
            cross = t0 + (most - r0) / (now - r0) * (t - t0) if (r0 > most) != (now > most) else None
            first = t0 if r0 > most else cross
            last = t if now > most else cross
            if first is not None and last is not None:
                windows.append((first - 600.0, last))
        before = (t, now)
    return _union(windows)


def _union(windows: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    merged: list[tuple[float, float]] = []
    for start, end in sorted(windows):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
    return merged
