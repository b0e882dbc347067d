"""Names and behaviour together: one signal for each name and one name for each signal, or left open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from eventlens import signals
from eventlens.reading.suggest.behaviour import Behaviour
from eventlens.reading.suggest.labels import CONTRADICTS, agreeing, label
from eventlens.reading.suggest.names import NameReading
from eventlens.reading.suggest.parts import Group, Part

THRESHOLD: Final = 0.65
"""Below this nothing is proposed (set on simulated logs: under one proposal in a hundred is wrong)."""
BARE: Final = 0.7
"""A name of a direction alone is taken for its command: its runs are the same if it is the contactor."""
USUALLY_ON: Final = 0.5
REST_CLOSED: Final = ("limit", "slowdown", "emergency", "overload", "slack", "hot", "phase")
"""Concepts whose contacts are often logged 1 = healthy."""
MOST_GROUPS: Final = 5


@dataclass(frozen=True)
class Proposal:
    """What a name of the dump most likely stands for."""

    name: str
    signal: str | None
    """None: left open."""
    invert: bool
    """1 in the dump means off."""
    confidence: float
    """0 to 1."""
    reason: str
    """One sentence."""
    candidates: tuple[str, ...] = ()
    """Where it is left open: what it may be."""


@dataclass(frozen=True)
class _Belief:
    """Shares of belief of one name's signals, with where they come from."""

    shares: Mapping[str, float]
    reason: str
    invert: bool
    from_behaviour: bool = False


def combine(readings: Mapping[str, NameReading], behaviour: Behaviour) -> tuple[Proposal, ...]:
    """A proposal for every name about which something is known, in the order of the names."""
    beliefs = {name: _from_name(reading, behaviour) for name, reading in readings.items()}
    groups = [agreeing(group, readings) for group in behaviour.groups[:MOST_GROUPS]]
    for group, marginal in zip(groups, label(groups, readings), strict=True):
        for part in group.parts:
            shares = {signal: share * part.sure for signal, share in marginal[part.bit.name].items()}
            beliefs[part.bit.name] = _joined(part, shares, beliefs.get(part.bit.name), _why(group, part, shares))
    for part in (*behaviour.machine, *behaviour.measures):
        if part.bit.name in readings and readings[part.bit.name].allows(part.role) > CONTRADICTS:
            beliefs[part.bit.name] = _joined(part, {part.role: part.sure}, beliefs.get(part.bit.name), part.reason)
    known = {name: belief for name, belief in beliefs.items() if belief is not None and belief.shares}
    return _assign(known)


# Beliefs


def _from_name(reading: NameReading, behaviour: Behaviour) -> _Belief | None:
    if not reading.weights:
        return None
    shares = dict(reading.weights)
    words = ", ".join(sorted(c for c in reading.concepts if c not in ("other",)))
    reason = f"the name says {words}" + (f", letter code {reading.letter}" if reading.kinds else "")
    bit = behaviour.bits.get(reading.name)
    only_numbers = any(signal in signals.MEASURES for signal in shares)
    if only_numbers == (bit is not None):
        return None if bit is not None else _Belief({}, reason, False)
    for signal in [s for s in shares if s.endswith(".command")]:
        twin = signal.replace(".command", ".contactor")
        if shares.get(twin) == shares[signal]:
            shares[signal], shares[twin] = BARE / 0.485 * shares[signal], 0.25 / 0.485 * shares[twin]
            reason += " and not whether command or contactor: taken as the command, whose runs are the same"
    invert = reading.invert
    if invert is None and bit is not None and bit.share > USUALLY_ON and set(REST_CLOSED) & reading.concepts.keys():
        invert = True
        reason += f"; it is 1 for {bit.share:.0%} of the time, so 1 is taken as not operated"
    return _Belief(shares, reason, bool(invert))


def _joined(part: Part, shares: Mapping[str, float], named: _Belief | None, reason: str) -> _Belief:
    """Behaviour with what the name says besides."""
    invert = part.bit.inverted
    if named is None or not named.shares:
        return _Belief(shares, reason, invert, from_behaviour=True)
    both = {}
    for signal in {*shares, *named.shares}:
        seen, said = shares.get(signal, 0.0), named.shares.get(signal, 0.0)
        both[signal] = 1 - (1 - seen) * (1 - said) if seen > 0.3 else said * (1 - part.sure * 0.5)
    return _Belief(both, f"{named.reason.split(' and not whether')[0]}; {reason}", invert, from_behaviour=True)


def _why(group: Group, part: Part, shares: Mapping[str, float]) -> str:
    """The part's own reason, what decides motion and direction, and what stays unknown."""
    text = part.reason
    best = max(shares.values(), default=0.0)
    if best >= THRESHOLD:
        decisive = [group.why_motion] if group.why_motion else []
        if part.role.startswith(("x.", "y.")) and group.why_first:
            decisive.append(f"raise is told because {group.why_first}")
        return "; ".join([text, *dict.fromkeys(decisive)])
    likely = {signal for signal, share in shares.items() if share >= 0.05}
    unknown = []
    if len({signals.motion_of(signal) for signal in likely}) > 1:
        unknown.append("which motion it is")
    if len({signal.split(".")[1] for signal in likely}) > 1 and part.role[:2] in ("x.", "y."):
        runs = [run.name for run in (group.run("x"), group.run("y")) if run is not None]
        pair = " and ".join(f"'{name}'" for name in runs)
        first = "raise" if {signals.motion_of(s) for s in likely} == {"hoist"} else "the first direction"
        unknown.append(f"which of {pair} is {first}" if len(runs) == 2 else "which direction it is")
    if part.role.endswith(".run"):
        unknown.append("whether it is command or contactor")
    return f"{text}; not known: {', '.join(unknown)}" if unknown else text


# One to one


def _assign(beliefs: Mapping[str, _Belief]) -> tuple[Proposal, ...]:
    """The best consistent choice: each signal for one name. What another name claims nearly as well is left open."""
    from scipy.optimize import linear_sum_assignment

    names = list(beliefs)
    columns = sorted({signal for belief in beliefs.values() for signal in belief.shares})
    share = np.array([[beliefs[name].shares.get(signal, 0.0) for signal in columns] for name in names])
    if not share.size:
        return ()
    worth = np.where(share >= CONTRADICTS, share, 0.0)
    chosen = dict(zip(*(indices.tolist() for indices in linear_sum_assignment(worth, maximize=True)), strict=True))
    settled = {row: column for row, column in chosen.items() if share[row, column] >= THRESHOLD}
    found = []
    for row, name in enumerate(names):
        belief, column = beliefs[name], settled.get(row)
        likely = [signal for signal in columns if belief.shares.get(signal, 0.0) >= CONTRADICTS]
        if column is not None:
            rivals = [
                names[other]
                for other in range(len(names))
                if other != row and other not in settled and share[other, column] > 0.6 * share[row, column]
            ]
            if not rivals:
                sure = round(float(share[row, column]), 2)
                found.append(Proposal(name, columns[column], belief.invert, sure, belief.reason))
                continue
            claim = f"{belief.reason}; left open: '{rivals[0]}' claims the same signal"
            found.append(Proposal(name, None, belief.invert, 0.0, claim, tuple(likely)))
        elif likely:
            best = max(share[row].max(), 0.0)
            found.append(Proposal(name, None, belief.invert, round(float(best), 2), belief.reason, tuple(likely)))
    return tuple(found)
