"""Devices and long times: emergency stop, thermistor, overload device, limits as stops, long runs."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence

from eventlens.signals import MOTIONS
from eventlens.simulation.ideal.intervals import OPEN, View
from eventlens.simulation.truth import Span

OPENS_S = 0.05
"""A stop opens the contactors within this."""
LONGEST_RUN_S = 600.0
DAILY_TEST_S = 1800.0
UNLOADED = 0.1
"""Share of the rated load that hook and drift may weigh."""
OTHER_LIMITS = 3
"""Operations of a limit that is no upper one in a shift from which it is used as a stop."""


def emergency_stops(view: View) -> Iterator[Span]:
    """Pressed while something runs."""
    for pressed, released in view.on("stop.emergency"):
        if pressed > 0 and released < OPEN and any(a <= pressed < b + OPENS_S for a, b in view.moving):
            yield Span("emergency_stop_running", None, pressed, released)


def device_faults(view: View) -> Iterator[Span]:
    """The overload device reports a fault of its own."""
    for start, end in view.on("overload.fault"):
        if end < OPEN:
            yield Span("overload_device_fault", "hoist", start, end)


def hot(view: View, motion: str) -> Iterator[Span]:
    """The thermistor trips."""
    for start, end in view.on(f"{motion}.motor.hot"):
        if start > 0 and end < OPEN:
            yield Span("motor_hot", motion, start, end)


def long_runs(view: View, motion: str) -> Iterator[Span]:
    """A run longer than the shortest short-time rating."""
    for start, end, _ in view.contactors(motion):
        if end < OPEN and end - start > LONGEST_RUN_S:
            yield Span("run_too_long", motion, start, end, end - start - LONGEST_RUN_S)


def limits_as_stops(view: View, motion: str, shifts: Sequence[float], rated_kg: float) -> Iterator[Span]:
    """A final limit that a run drove into: the upper one but for the daily test, others from the third in a shift."""
    for way in MOTIONS[motion]:
        tested: set[int] = set()
        count: dict[int, list[Span]] = {}
        for start, end in view.on(f"{motion}.{way}.limit"):
            if start <= 0 or end == OPEN or not view.touches(f"{motion}.{way}.contactor", start - OPENS_S, start):
                continue
            shift = bisect_right(shifts, start) - 1
            span = Span("limit_as_stop", motion, start, end)
            if way != "raise":
                count.setdefault(shift, []).append(span)
                continue
            early = shift >= 0 and start - shifts[shift] <= DAILY_TEST_S
            if early and shift not in tested and _load(view, start) <= UNLOADED * rated_kg:
                tested.add(shift)
                continue
            yield span
        for spans in count.values():
            yield from spans[OTHER_LIMITS - 1 :]


def _load(view: View, at: float) -> float:
    track = view.tracks.get("load.kg", ((0.0, 0.0),))
    return track[max(bisect_right(track, (at, float("inf"))) - 1, 0)][1]
