"""What a name alone says: words of the trade and letter codes -> which signals it may stand for, and how surely."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from eventlens import signals
from eventlens.reading.suggest.vocabulary import LETTERS
from eventlens.reading.suggest.wording import concepts_of

SURE: Final = 0.97
"""Most that a name alone is trusted: names are copied and reused (from memory)."""
IN_CONTEXT: Final = frozenset({"released", "applied", "trip", "warning", "healthy", "slow"})
"""Concepts that say something only beside another one."""

_LETTER: Final = re.compile(r"^[-=+\s]*([A-Z]{1,2})[-_ ]?\d+[A-Za-z]?(?=$|[\s:_/(-])")
"""A designation such as K11 or -S7; not an address such as Q0.1, which tells nothing of the kind of device."""


@dataclass(frozen=True)
class NameReading:
    """What a name says."""

    name: str
    concepts: Mapping[str, float]
    """Concept -> how surely it was read, 0 to 1."""
    weights: Mapping[str, float]
    """Signal -> share of belief from the name alone; empty: the name says nothing. The rest is 'none of them'."""
    invert: bool | None
    """The name says that 1 means off (True); None: it does not say."""
    letter: str | None = None
    """Letter code, where it has one."""
    kinds: tuple[str, ...] = ()
    """Kinds that the letter code allows."""

    def allows(self, signal: str) -> float:
        """How well the signal agrees with the name: 1 where the name says nothing against it."""
        if self.weights:
            return max(self.weights.get(signal, 0.0) / max(self.weights.values()), 1e-4)
        if self.kinds and _kind_of(signal) not in self.kinds:
            return 0.1
        return 1.0


def read_names(names: Iterable[str]) -> dict[str, NameReading]:
    """The reading of every name of a log; a motion that no other name mentions is not assumed."""
    names = list(names)
    found = {name: concepts_of(name) for name in names}
    travels = any({"trolley", "bridge", "left", "right", "forward", "reverse"} & c.keys() for c in found.values())
    return {name: _reading(name, concepts, travels) for name, concepts in found.items()}


def _reading(name: str, concepts: dict[str, float], travels: bool) -> NameReading:
    letter = _LETTER.match(name)
    code = letter.group(1) if letter else None
    kinds = LETTERS.get(code, ()) if code else ()
    if "other" in concepts:
        return NameReading(name, concepts, {}, None, code, ("other",))
    meant = {c: s for c, s in concepts.items() if c not in IN_CONTEXT}
    weights, used = _weights(name, concepts, travels) if meant else ({}, ())
    strength = min((concepts[c] for c in used), default=1.0)
    weights = {signal: share * strength * SURE for signal, share in weights.items()}
    return NameReading(name, concepts, weights, _inverted(concepts), code, kinds)


def _inverted(concepts: Mapping[str, float]) -> bool | None:
    if "healthy" in concepts and "brake" not in concepts:
        return True
    if "brake" in concepts and ("applied" in concepts) != ("released" in concepts):
        return "applied" in concepts
    return None


def _weights(name: str, concepts: Mapping[str, float], travels: bool) -> tuple[dict[str, float], tuple[str, ...]]:
    """Shares of belief of the signals, and the concepts on which they rest."""
    machine = _machine_signal(concepts)
    if machine:
        return machine
    motions, by_motion = _motions(concepts, travels)
    kind, by_kind = _kind(name, concepts)
    if kind in ("brake.released", "motor.hot"):
        if len(motions) > 1:
            motions = {motion: 0.9 if motion == "hoist" else 0.05 for motion in motions}  # few travels are monitored
        return {f"{motion}.{kind}": share for motion, share in motions.items()}, (*by_motion, *by_kind)
    if kind in ("motor.current_a", "motor.temperature_c", "speed_m_per_min", "height_m", "position_m"):
        measured = {f"{motion}.{kind}": share for motion, share in motions.items()}
        return {signal: share for signal, share in measured.items() if signal in signals.MEASURES}, by_kind
    ways = _ways(concepts, motions, kind)
    if kind is not None:
        return {f"{way}.{kind}": share for way, share in ways.items()}, (*by_motion, *by_kind)
    both = ("command", "contactor")
    return {f"{way}.{one}": share / 2 for way, share in ways.items() for one in both}, by_motion


def _machine_signal(concepts: Mapping[str, float]) -> tuple[dict[str, float], tuple[str, ...]] | None:
    """Signals of the machine as a whole."""
    if "emergency" in concepts:
        return {"stop.emergency": 1.0}, ("emergency",)
    if "slack" in concepts:
        return {"rope.slack": 1.0}, ("slack",)
    if "phase" in concepts:
        return {"supply.phase_fault": 1.0}, ("phase",)
    if "overload" in concepts and "reset" not in concepts:
        kind = next((kind for kind in ("warning", "fault") if kind in concepts), "trip")
        return {f"overload.{kind}": 1.0}, ("overload",)
    if "supply" in concepts:
        return {"supply.control": 1.0}, ("supply",)
    if "reset" in concepts:
        return {"fault.reset": 1.0}, ("reset",)
    if {"load", "trip"} <= concepts.keys():
        return {"overload.trip": 1.0}, ("load", "trip")
    if "load" in concepts and not {"raise", "lower", "limit", "brake"} & concepts.keys():
        return {"load.kg": 0.8, "load.percent": 0.2}, ("load",)
    return None


def _kind(name: str, concepts: Mapping[str, float]) -> tuple[str | None, tuple[str, ...]]:
    if "brake" in concepts:
        return ("none" if {"contactor", "command"} & concepts.keys() else "brake.released"), ("brake",)
    for concept, kind in (("hot", "motor.hot"), ("current", "motor.current_a"), ("height", "height_m")):
        if concept in concepts:
            return kind, (concept,)
    if "slowdown" in concepts or {"slow", "limit"} <= concepts.keys():
        return "slowdown", tuple({"slowdown", "limit"} & concepts.keys())
    if "limit" in concepts:
        return "limit", ("limit",)
    if "command" in concepts or "contactor" in concepts:
        kind = "contactor" if "contactor" in concepts else "command"
        return kind, (kind,)
    if not {"raise", "lower", "left", "right", "forward", "reverse", "fast", "slow"} & concepts.keys():
        if "temperature" in concepts:
            return "motor.temperature_c", ("temperature",)
        for concept, kind in (("speed", "speed_m_per_min"), ("position", "position_m")):
            if concept in concepts:
                return kind, (concept,)
    letter = _LETTER.match(name)
    allowed = LETTERS.get(letter.group(1), ()) if letter else ()
    chosen = [kind for kind in ("command", "contactor") if kind in allowed]
    return (chosen[0] if len(chosen) == 1 else None), ()


def _motions(concepts: Mapping[str, float], travels: bool) -> tuple[dict[str, float], tuple[str, ...]]:
    """Which motions a name may mean, with shares."""
    if {"raise", "lower"} & concepts.keys():
        return {"hoist": 1.0}, tuple({"raise", "lower"} & concepts.keys())
    for motion in ("trolley", "hoist", "bridge"):
        if motion in concepts and not (motion == "hoist" and {"left", "right", "forward", "reverse"} & concepts.keys()):
            return {motion: 1.0}, (motion,)
    if {"left", "right"} & concepts.keys():
        return {"trolley": 0.9, "bridge": 0.1}, tuple({"left", "right"} & concepts.keys())
    if {"forward", "reverse"} & concepts.keys():
        return {"bridge": 0.9, "trolley": 0.1}, tuple({"forward", "reverse"} & concepts.keys())
    return (dict.fromkeys(signals.MOTIONS, 1 / 3) if travels else {"hoist": 0.95}), ()


def _ways(concepts: Mapping[str, float], motions: Mapping[str, float], kind: str | None) -> dict[str, float]:
    """'motion.direction' or 'motion.fast' with shares. Where a plant calls the trolley's way forward, left is meant."""
    if "fast" in concepts and kind in (None, "command", "contactor"):
        return {f"{motion}.fast": share for motion, share in motions.items()}
    found: dict[str, float] = {}
    sides = ({"raise", "left", "forward"} & concepts.keys(), {"lower", "right", "reverse"} & concepts.keys())
    if bool(sides[0]) == bool(sides[1]):
        if kind in ("limit", "slowdown"):
            return {f"{m}.{way}": share / 2 for m, share in motions.items() for way in signals.MOTIONS[m]}
        return {}
    for motion, share in motions.items():
        way = signals.MOTIONS[motion][0 if sides[0] else 1]
        own = way in concepts
        found[f"{motion}.{way}"] = share * (1.0 if own else 0.75)
    return found


def _kind_of(signal: str) -> str:
    """The concept of a signal, as the letter codes use it."""
    machine = {
        "stop.emergency": "emergency",
        "rope.slack": "slack",
        "supply.control": "supply",
        "supply.phase_fault": "phase",
        "fault.reset": "reset",
        "load.kg": "load",
        "load.percent": "load",
        "overload.fault": "fault",
    }
    if signal in machine:
        return machine[signal]
    if signal.startswith("overload."):
        return "overload"
    last = signal.rsplit(".", 1)[1]
    return {"released": "brake", "current_a": "current", "height_m": "height", "speed_m_per_min": "speed"}.get(
        last, last
    )
