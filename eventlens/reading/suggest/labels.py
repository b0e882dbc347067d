"""Which motion a group is and which of its directions is which: every labelling, weighed by names and behaviour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import permutations
from typing import Final

from eventlens import signals
from eventlens.reading.suggest.names import NameReading
from eventlens.reading.suggest.parts import Group

CONTRADICTS: Final = 0.05
"""A name that allows a signal less than this speaks against it."""
NO_MOTION: Final = 0.02
"""Odds that a motion in the log belongs to another machine."""


def agreeing(group: Group, readings: Mapping[str, NameReading]) -> Group:
    """The group without parts that their names contradict."""
    kept = []
    for part in group.parts:
        reading = readings.get(part.bit.name)
        if reading is None:
            continue
        best = max(
            (reading.allows(s) for motion in signals.MOTIONS for s in _signals_of(part.role, motion)), default=0.0
        )
        if best > CONTRADICTS and "other" not in reading.kinds:
            kept.append(part)
    return replace(group, parts=kept)


def _signals_of(role: str, motion: str) -> list[str]:
    """Every signal that a role may be in a motion."""
    if role == "overload.trip":
        return [role] if motion == "hoist" else []
    head, kind = role.split(".", 1)
    ways = signals.MOTIONS[motion] if head in ("x", "y") else (head,)
    kinds = ("command", "contactor") if kind == "run" else (kind,)
    return [f"{motion}.{way}.{one}" for way in ways for one in kinds]


def _may_be(role: str, motion: str, *, turned: bool) -> list[str]:
    """The signals of a role, once motion and directions are chosen: two where command or contactor is not known."""
    if role == "overload.trip":
        return [role]
    head, kind = role.split(".", 1)
    if head in ("x", "y"):
        head = signals.MOTIONS[motion][(head == "y") != turned]
    return [f"{motion}.{head}.{one}" for one in (("command", "contactor") if kind == "run" else (kind,))]


Marginal = dict[str, dict[str, float]]
"""Bit -> signal -> share of belief."""


def label(groups: Sequence[Group], readings: Mapping[str, NameReading]) -> list[Marginal]:
    """Shares of belief over every way to call the motions, their directions and layers, each motion used once."""
    inside = [{motion: _ways(group, motion, readings) for motion in signals.MOTIONS} for group in groups]
    marginals: list[Marginal] = [{part.bit.name: {} for part in group.parts} for group in groups]
    total = 0.0
    names = [*signals.MOTIONS, *[None] * max(0, len(groups))]
    for chosen in set(permutations(names, len(groups))):
        weight = 1.0
        for group, motion, within in zip(groups, chosen, inside, strict=True):
            odds = group.motion.get(motion, 1.0) * within[motion][0] if motion else NO_MOTION
            weight *= odds
        total += weight
        for at, motion in enumerate(chosen):
            for name, shares in inside[at][motion][1].items() if motion else ():
                for signal, share in shares.items():
                    marginals[at][name][signal] = marginals[at][name].get(signal, 0.0) + weight * share
    if total > 0:
        for marginal in marginals:
            for shares in marginal.values():
                for signal in shares:
                    shares[signal] /= total
    return marginals


def _ways(group: Group, motion: str, readings: Mapping[str, NameReading]) -> tuple[float, Marginal]:
    """How well the names agree with a group's being this motion, and the shares within it."""
    total, marginal = 0.0, {part.bit.name: dict[str, float]() for part in group.parts}
    odds = group.first_odds if motion == "hoist" else 1.0
    for turned, prior in ((False, odds / (1 + odds)), (True, 1 / (1 + odds))):
        labels: dict[str, dict[str, float]] = {}
        weight = prior
        for part in group.parts:
            may = _may_be(part.role, motion, turned=turned)
            allowed = {signal: readings[part.bit.name].allows(signal) / len(may) for signal in may}
            weight *= sum(allowed.values())
            labels[part.bit.name] = allowed
        total += weight
        for name, allowed in labels.items():
            for signal, share in allowed.items():
                here = weight * share / sum(allowed.values())
                marginal[name][signal] = marginal[name].get(signal, 0.0) + here
    if total > 0:
        for shares in marginal.values():
            for signal in shares:
                shares[signal] /= total
    return total, marginal
