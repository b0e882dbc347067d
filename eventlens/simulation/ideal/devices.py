"""Devices and long times: emergency stop, thermistor, overload device, limits as stops, long runs."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence

from eventlens.signals import MOTIONS
from eventlens.simulation.ideal.intervals import OPEN, View, overlapping
from eventlens.simulation.truth import Span

OPENS_S = 0.05
"""A stop opens the contactors within this."""
LONGEST_RUN_S = 600.0
UNTRIPPED_S = 2.0
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


def long_runs(view: View, motion: str, limits: Mapping[str, float]) -> Iterator[Span]:
    """A run longer than the motor's short-time rating, or than the shortest there is."""
    longest = limits.get("run_longest_s", LONGEST_RUN_S)
    for start, end, _ in view.contactors(motion):
        if end < OPEN and end - start > longest:
            yield Span("run_too_long", motion, start, end, end - start - longest)


def untripped(view: View) -> Iterator[Span]:
    """The rope carries more than any device may let pass, the hoist raises, and the device does not act."""
    tripped = view.on("overload.trip")
    for start, end in view.on("hoist.raise.contactor"):
        for heavy, light in overlapping(view.on("load.unallowed"), start, end):
            begin, last = max(start, heavy), min(end, light)
            for on, off in (*overlapping(tripped, begin, last), (last, last)):
                if min(on, last) - begin >= UNTRIPPED_S and last < OPEN:
                    yield Span("overload_no_trip", "hoist", begin, min(on, last), min(on, last) - begin - UNTRIPPED_S)
                begin = max(begin, off)


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
