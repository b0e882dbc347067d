"""An ideal reader of the exact hidden tracks: what happened, by the definitions of the catalogue, on exact time.

Plain Python, one thing after the other, without anything of the patterns themselves. What only the hidden machine knows
(which part opened a contactor, whether a relay failed to make) is noted by the recorder instead (simulation.truth).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from eventlens.signals import MOTIONS
from eventlens.simulation.ideal import brakes, contactors, devices, disturbances, lost
from eventlens.simulation.ideal.intervals import Tracks, View
from eventlens.simulation.truth import Span

__all__ = ["spans"]


def spans(tracks: Tracks, noted: Sequence[Span], shifts: Sequence[float], rated_kg: float) -> list[Span]:
    """Everything that the tracks show.

    tracks: signal -> its changes (instant [s], value), the first at the beginning; noted: what the recorder noted;
    shifts: beginnings of the shifts [s]; rated_kg: rated load [kg].
    """
    view = View(tracks)
    shaken = disturbances.chatter(view)
    dips = disturbances.common_drop_outs(view)
    found = [*shaken, *dips, *devices.emergency_stops(view), *devices.device_faults(view)]
    found += lost.functions(view, noted)
    for motion in MOTIONS:
        for span in _of_motion(view, motion, shifts, rated_kg):
            if not _disturbed(span, motion, shaken, dips):
                found.append(span)
    return found


def _of_motion(view: View, motion: str, shifts: Sequence[float], rated_kg: float) -> Iterator[Span]:
    yield from brakes.late(view, motion)
    yield from brakes.at_rest(view, motion)
    yield from brakes.lost(view, motion)
    yield from contactors.late(view, motion)
    yield from contactors.stuck(view, motion)
    yield from contactors.uncommanded(view, motion)
    yield from contactors.opposed(view, motion)
    yield from contactors.reversals(view, motion)
    yield from devices.hot(view, motion)
    yield from devices.long_runs(view, motion)
    yield from devices.limits_as_stops(view, motion, shifts, rated_kg)


def _disturbed(span: Span, motion: str, shaken: Sequence[Span], dips: Sequence[Span]) -> bool:
    """A contact that chatters, or a supply that dips, makes nothing else beside itself."""
    if span.pattern in ("motor_hot", "run_too_long", "limit_as_stop"):
        return False
    near = [one for one in shaken if one.motion == motion] + list(dips)
    return any(span.start <= one.end + 0.5 and span.end >= one.start - 0.5 for one in near)
