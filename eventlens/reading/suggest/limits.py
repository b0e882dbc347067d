"""Final limits and slow-downs: switches that come on in runs of one direction and go off in those of the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from eventlens.reading.suggest.bits import Bit, Longs
from eventlens.reading.suggest.edges import at_instants, coasting_at
from eventlens.reading.suggest.parts import Group, Part

MOST_EVENTS: Final = 400
"""A switch that operates more often than this is none (from memory)."""
CUT_S: Final = 0.15
"""From the signal to the opening of the contactor: scan, relay, contactor (common practice: under 0.1 s)."""
REST_US: Final = 3 * 3600 * 1_000_000
"""A pause after which work begins anew."""
FIRST_RUNS: Final = 8
"""The daily test of the upper limit comes within so many runs (OSHA 1910.179(n)(4): at the beginning of the shift)."""


@dataclass(frozen=True)
class Switch:
    """How a bit lies to the runs of one direction (x) and the other (y) of a motion."""

    bit: Bit
    way: str
    run: Bit
    """What the runs of x are read from."""
    blind: bool
    """These are commands: they go on when the switch has stopped the run."""
    events: int
    """Times it came on."""
    cut: int
    """Of these, how often the contactor of x opened at once."""
    fast_cut: int
    fast_let: int
    """Of these, how often fast went off at once, and how often it stayed on."""
    off_in_y: int
    """Times it went off in a run of y."""
    off_seen: int

    @property
    def by_position(self) -> bool:
        """It only ever went off in runs of y."""
        return self.off_in_y == self.off_seen

    @property
    def blocks(self) -> bool:
        """It ended every run that met it, and no run of x began while it was on."""
        starts = self.run.start[self.run.start_seen]
        return self.cut == self.events and not (at_instants(self.bit, starts) >= 0).any()


def switches_of(group: Group, bit: Bit, step_s: float) -> list[Switch]:
    """The bit as a switch of x and as one of y."""
    rises, falls = bit.start[bit.start_seen], bit.end[bit.end_seen]
    if not len(rises) or bit.count > MOST_EVENTS:
        return []
    found = []
    for way, other in (("x", "y"), ("y", "x")):
        run, back = group.run(way), group.run(other)
        assert run is not None
        assert back is not None
        host = coasting_at(run, rises)
        if (host < 0).any():
            continue
        cut = ((run.end[host] - rises) / 1e6 <= CUT_S + step_s) & run.end_seen[host]
        off_in_y = int((coasting_at(back, falls) >= 0).sum()) if len(falls) else 0
        blind = group.of(f"{way}.contactor", f"{way}.run") is None
        fast = _fast(group, rises, step_s)
        found.append(Switch(bit, way, run, blind, len(rises), int(cut.sum()), *fast, off_in_y, len(falls)))
    return found


def _fast(group: Group, rises: Longs, step_s: float) -> tuple[int, int]:
    """How often fast was on at these instants and went off at once, and how often it stayed on."""
    fast = group.of("fast.contactor", "fast.run", "fast.command")
    if fast is None:
        return 0, 0
    inside = at_instants(fast, rises)
    ends = (fast.end[inside[inside >= 0]] - rises[inside >= 0]) / 1e6
    return int((ends <= CUT_S + step_s).sum()), int((ends > CUT_S + step_s).sum())


def limits_of(group: Group, switches: Sequence[Switch], starts: Longs) -> list[Part]:
    """Limits and slow-downs of one motion; what cannot be told apart is left out. starts: of all runs, sorted."""
    parts: list[Part] = []
    for way in ("x", "y"):
        own = [s for s in switches if s.way == way and s.by_position]
        pairs = [(inner, outer) for inner in own for outer in own if _within(inner, outer)]
        for s in own:
            inner, outer = any(s is a for a, _ in pairs), any(s is b for _, b in pairs)
            if part := _judge(s, inner=inner, outer=outer, nested=len(pairs), tested=_tested(s, starts)):
                parts.append(part)
                if part.role.endswith(".limit") and _tested(s, starts):
                    _is_upper(group, s)
    roles = [part.role for part in parts]
    return [part for part in parts if roles.count(part.role) == 1]


def _judge(s: Switch, *, inner: bool, outer: bool, nested: int, tested: bool) -> Part | None:
    """Limit or slow-down, by what it ends and by whether it lies inside another switch; None: not known."""
    text = f"comes on only in runs of '{s.run.name}' ({s.events} x) and goes off in runs of the other direction"
    if nested == 1 and inner and (s.blocks or s.blind):
        ends = "" if s.blind else ", ends them and lets none begin"
        return Part(s.bit, f"{s.way}.limit", 0.95, f"{text}{ends}; it lies inside another such switch")
    if nested == 1 and outer and (s.blind or not s.fast_let):
        return Part(s.bit, f"{s.way}.slowdown", 0.95, f"{text}; another such switch, the limit, lies inside it")
    if nested:
        return None
    if s.fast_cut and not s.fast_let and s.cut < s.events:
        return Part(s.bit, f"{s.way}.slowdown", 0.85, f"{text}, and ends fast ({s.fast_cut} x) but not the runs")
    if s.blocks and tested:
        return Part(s.bit, f"{s.way}.limit", 0.9, f"{text}, ends them at once; first met at the beginning of work")
    return None


def _is_upper(group: Group, s: Switch) -> None:
    """A limit that is met at the beginning of work is the upper one of the hoist, whose daily test is required."""
    if group.first_odds != 1.0:
        return
    group.first_odds = 30.0 if s.way == "x" else 1 / 30.0
    group.why_first = (
        f"'{s.bit.name}' is met among the first runs after a rest, as in the daily test of the upper limit"
    )
    if not group.motion:
        group.motion = {"hoist": 20.0 if s.events > 1 else 8.0}
        group.why_motion = f"its limit '{s.bit.name}' is tested daily"


def _within(inner: Switch, outer: Switch) -> bool:
    """Whether every stretch of `inner` lies in one of `outer`."""
    if inner is outer:
        return False
    host = at_instants(outer.bit, inner.bit.start)
    return bool((host >= 0).all()) and bool((outer.bit.end[host] >= inner.bit.end).all())


def _tested(s: Switch, starts: Longs) -> bool:
    """Whether it is met among the first runs of at least half of the stretches of work between long rests."""
    begins = np.flatnonzero(np.diff(starts, prepend=np.iinfo(np.int64).min // 2) >= REST_US)
    number = np.arange(len(starts)) - begins[np.searchsorted(begins, np.arange(len(starts)), side="right") - 1]
    rises = s.bit.start[s.bit.start_seen]
    at = np.clip(np.searchsorted(starts, rises, side="right") - 1, 0, None)
    first = at[number[at] < FIRST_RUNS]
    shifts = np.unique(np.searchsorted(begins, first, side="right"))
    return 2 * len(shifts) >= len(begins)
