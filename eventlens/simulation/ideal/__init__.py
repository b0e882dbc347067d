"""An ideal reader of the exact hidden tracks: what happened, by the definitions of the catalogue, on exact time.

Plain Python, one thing after the other, without anything of the patterns themselves. What only the hidden machine knows
(which part opened a contactor, whether a relay failed to make) is noted by the recorder instead (simulation.truth).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

from eventlens.signals import MOTIONS
from eventlens.simulation.ideal import brakes, contactors, devices, disturbances, frozen, lost, rests
from eventlens.simulation.ideal.intervals import Tracks, View
from eventlens.simulation.truth import Span

__all__ = ["recorded", "spans"]


def spans(
    tracks: Tracks,
    noted: Sequence[Span],
    shifts: Sequence[float],
    rated_kg: float,
    limits: Mapping[str, float] = MappingProxyType({}),
) -> list[Span]:
    """Everything that the tracks show.

    tracks: signal -> its changes (instant [s], value), the first at the beginning; noted: what the recorder noted;
    shifts: beginnings of the shifts [s]; rated_kg: rated load [kg]; limits: those of the machine file.
    """
    view = View(tracks)
    shaken = disturbances.chatter(view)
    dips = disturbances.common_drop_outs(view)
    found = [*shaken, *dips, *devices.emergency_stops(view), *devices.device_faults(view)]
    found += [*lost.functions(view, noted), *devices.untripped(view)]
    for motion in MOTIONS:
        for span in (*_of_motion(view, motion, shifts, rated_kg), *devices.long_runs(view, motion, limits)):
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
    yield from devices.limits_as_stops(view, motion, shifts, rated_kg)


def recorded(
    tracks: Tracks,
    carried: Sequence[str],
    stretches: Sequence[tuple[float, float]],
    since_h: Mapping[str, float],
    limits: Mapping[str, float],
) -> list[Span]:
    """What depends on how the machine was recorded: long rests, inputs that froze.

    carried: signals of the log; stretches: when the logger was on [s]; since_h: signal -> hour from which its input
    kept its state.
    """
    view = View(tracks)
    return [*rests.long(view, carried, stretches, limits), *frozen.inputs(view, carried, stretches, since_h)]


def _disturbed(span: Span, motion: str, shaken: Sequence[Span], dips: Sequence[Span]) -> bool:
    """A contact that chatters, or a supply that dips, makes nothing else beside itself."""
    if span.pattern in ("motor_hot", "run_too_long", "limit_as_stop"):
        return False
    near = [one for one in shaken if one.motion == motion] + list(dips)
    return any(span.start <= one.end + 0.5 and span.end >= one.start - 0.5 for one in near)
