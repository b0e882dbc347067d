"""Overload, which ends raising alone, and the emergency stop or the control supply, which end whatever runs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from eventlens.reading.suggest.bits import Bit
from eventlens.reading.suggest.edges import at_instants, coasting_at, covered_until
from eventlens.reading.suggest.limits import CUT_S
from eventlens.reading.suggest.parts import Group, Part

LONG_S: Final = 4.0
"""A load is taken up within this from the start of a run; an emergency stop lasts longer than this (from memory)."""
FEWEST_TRIPS: Final = 2

Turn = Callable[[Bit], Bit]


def find_overload(group: Group, bits: Sequence[Bit], used: set[str], turn: Turn, step_s: float) -> None:
    """The bit that ends raising soon after its start, comes on also as lowering stops, and goes off at rest."""
    found: list[tuple[Part, str]] = []
    for bit in bits:
        if bit.name in used or not bit.count:
            continue
        for way, other in (("x", "y"), ("y", "x")):
            run, back = group.of(f"{way}.contactor", f"{way}.run"), group.of(f"{other}.contactor", f"{other}.run")
            if run is not None and back is not None:
                for one in (bit, turn(bit)):
                    if cuts := _overloads(one, run, back, step_s):
                        text = f"ends young runs of '{run.name}' ({cuts} x), lets none begin and goes off also at rest"
                        found.append((Part(one, "overload.trip", 0.9, text), way))
    if len(found) != 1:
        return
    part, way = found[0]
    group.parts.append(part)
    run = group.run(way)
    assert run is not None
    group.first_odds *= 200.0 if way == "x" else 1 / 200.0
    group.why_first = group.why_first or (
        f"'{part.bit.name}' ends only runs of '{run.name}', as overload does when raising"
    )
    group.motion = {"hoist": 50.0}
    group.why_motion = group.why_motion or f"'{part.bit.name}' is an overload trip"


def _overloads(bit: Bit, run: Bit, back: Bit, step_s: float) -> int:
    """How often the bit ended a young run of the direction; 0 if it does anything that an overload does not."""
    rises, falls = bit.start[bit.start_seen], bit.end[bit.end_seen]
    if len(rises) < FEWEST_TRIPS or bit.count > 400 or bit.share > 0.1 or not len(falls):
        return 0
    host, coasting = coasting_at(run, rises), coasting_at(back, rises) >= 0
    coasting &= at_instants(back, rises) < 0
    ends = np.where(host >= 0, (run.end[host] - rises) / 1e6, np.inf)
    age = np.where(host >= 0, (rises - run.start[host]) / 1e6, np.inf)
    cut = (host >= 0) & (np.abs(ends) <= CUT_S + step_s)
    young = cut & (age <= LONG_S)
    began = at_instants(bit, run.start[run.start_seen]) >= 0
    at_rest = (at_instants(run, falls) < 0) & (at_instants(back, falls) < 0)
    if not (cut | coasting).all() or began.any() or not at_rest.any() or (at_instants(run, falls) >= 0).any():
        return 0
    brief = bool(((bit.end - bit.start) / 1e6 <= LONG_S).all())
    lowered = int((covered_until(back, bit.end) - covered_until(back, bit.start)).sum()) > 0
    if not (brief or (lowered and young.sum() >= FEWEST_TRIPS)):
        return 0  # an emergency stop would look the same
    return int(young.sum()) if young.sum() + coasting.sum() >= FEWEST_TRIPS else 0


def stop_of(groups: Sequence[Group], bit: Bit, step_s: float) -> Part | None:
    """An emergency stop (long) or the control supply (short): ends runs of more than one direction, lets none run."""
    rises = bit.start[bit.start_seen]
    if len(rises) < 2 or bit.share > 0.1 or bit.count > 400:
        return None
    cut_ways, cuts, inside = set(), 0, 0
    for number, group in enumerate(groups):
        for way in ("x", "y"):
            run = group.of(f"{way}.contactor", f"{way}.run")
            if run is None:
                continue
            host = at_instants(run, rises)
            hit = host >= 0
            ends = (run.end[host[hit]] - rises[hit]) / 1e6
            inside += int(hit.sum())
            cut = int((ends <= CUT_S + step_s).sum())
            cuts += cut
            cut_ways |= {(number, way)} if cut else set()
            settled = replace(bit, start=np.minimum(bit.start + int((CUT_S + step_s) * 1e6), bit.end))
            if int((covered_until(run, settled.end) - covered_until(run, settled.start)).sum()) > 0:
                return None
    if len(cut_ways) < 2 or cuts < inside:
        return None
    length = float(np.median(bit.end - bit.start)) / 1e6
    text = f"ends whatever runs ({cuts} x, {len(cut_ways)} directions) and lets nothing run while it is"
    if length >= LONG_S:
        return Part(bit, "stop.emergency", 0.9, f"{text} on, {length:.0f} s as a rule")
    if length <= 2.0:
        back = replace(bit, inverted=not bit.inverted)
        return Part(back, "supply.control", 0.85, f"{text} off, {length:.1f} s as a rule")
    return None
