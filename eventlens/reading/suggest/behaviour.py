"""What the bits and numbers of a log do, whatever they are called: motions with their parts, and what decides them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from eventlens.reading.suggest.bits import Bit, Track, bit_of, turned
from eventlens.reading.suggest.blockers import find_blockers
from eventlens.reading.suggest.groups import find_groups, is_active
from eventlens.reading.suggest.measures import find_load
from eventlens.reading.suggest.parts import Group, Part

BRAKE_ODDS: Final = 30.0
"""A brake confirmation is common on hoists and rare on travels (common practice)."""
BUSY_ODDS: Final = 4.0
BUSIER: Final = 1.7
"""A hoist that starts so many times as often as any other motion is usual."""
MOST_BITS: Final = 250
"""Active bits that are compared with each other, the busiest."""


@dataclass(frozen=True)
class Behaviour:
    """What the tracks show."""

    groups: Sequence[Group]
    machine: Sequence[Part]
    measures: Sequence[Part]
    bits: Mapping[str, Bit]
    """Every name that is on or off, as it stands in the dump."""


def observe(tracks: Sequence[Track], end: Mapping[int, int], step_s: float) -> Behaviour:
    """The motions in the tracks. end: last instant of each segment [us]; step_s: log step [s]."""
    ends = dict(end)
    states = {track.name: track for track in tracks if track.is_state}
    bits = {name: bit_of(track, ends) for name, track in states.items()}

    def turn(bit: Bit) -> Bit:
        return turned(bit, states[bit.name], ends)

    active = []
    for bit in bits.values():
        upright = turn(bit) if bit.share > 0.5 else bit
        if is_active(upright):
            active.append(upright)
    active = sorted(active, key=lambda bit: -bit.count)[:MOST_BITS]
    groups = find_groups(active, step_s)
    measures = find_load(groups, [track for track in tracks if not track.is_state])
    machine = find_blockers(groups, list(bits.values()), turn, step_s)
    _which_motion(groups)
    return Behaviour(groups, machine, measures, bits)


def _which_motion(groups: Sequence[Group]) -> None:
    """Odds of each group's being the hoist: from its brake and its business, where nothing better is known."""
    braked = [group for group in groups if group.of("brake.released")]
    counts = sorted((_runs(group) for group in groups), reverse=True)
    for group in groups:
        odds = group.motion.get("hoist", 1.0)
        if braked == [group]:
            odds *= BRAKE_ODDS
            group.why_motion = group.why_motion or "it alone has a brake confirmation"
        if len(groups) > 1 and _runs(group) == counts[0] and counts[0] >= BUSIER * counts[1]:
            odds *= BUSY_ODDS
            group.why_motion = group.why_motion or "it starts most often"
        group.motion = {"hoist": odds, "trolley": 1.0, "bridge": 1.0}


def _runs(group: Group) -> int:
    return sum(run.count for run in (group.run("x"), group.run("y")) if run is not None)
