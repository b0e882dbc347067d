"""How the edges of two bits lie to each other: shares and lags, by whole arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from eventlens.reading.suggest.bits import Bit, Longs

Seconds = npt.NDArray[np.float64]
NEAR_S: Final = 0.25
COAST_US: Final = 500_000
"""A switch may still be met while the motion coasts to a stop (from memory)."""
_NONE: Final = np.array([], np.float64)


@dataclass(frozen=True)
class Lag:
    """A time from edges of one bit to edges of another [s]."""

    values: Seconds

    @property
    def n(self) -> int:
        return len(self.values)

    @property
    def median(self) -> float:
        return float(np.median(self.values)) if self.n else float("nan")

    @property
    def mean(self) -> float:
        """Mean of the values near the median: a log step hides the median's fine part, faults lie far off."""
        near = self.values[np.abs(self.values - self.median) <= NEAR_S] if self.n else self.values
        return float(near.mean()) if len(near) else float("nan")

    def at(self, share: float) -> float:
        """The value below which this share lies."""
        return float(np.quantile(self.values, share)) if self.n else float("nan")

    def peak(self, width: float) -> tuple[float, float]:
        """Where the values lie closest: beginning of the window of this width that holds most, and their share."""
        if not self.n:
            return float("nan"), 0.0
        ordered = np.sort(self.values)
        held = np.searchsorted(ordered, ordered + width + 1e-9, side="right") - np.arange(self.n)
        best = int(held.argmax())
        return float(ordered[best]), float(held[best]) / self.n


@dataclass(frozen=True)
class Relation:
    """How a bit `b` lies to a bit `a`."""

    into: float
    """Share of b's starts at which a is on (or comes on at that very instant)."""
    answered: float
    """Share of a's stretches in which b starts."""
    covered: float
    """Share of b's time on in which a is on too."""
    covers: float
    """Share of a's time on in which b is on too."""
    rise: Lag
    """From a's start to b's first start within it."""
    fall: Lag
    """From a's end to b's end, for b's last stretch that started within it."""


def at_instants(bit: Bit, instants: Longs) -> Longs:
    """Number of the stretch that is on at each instant (its start included), -1: off."""
    index = np.searchsorted(bit.start, instants, side="right") - 1
    on = index >= 0
    on[on] = bit.end[index[on]] > instants[on]
    return np.where(on, index, -1)


def covered_until(bit: Bit, instants: Longs) -> Longs:
    """Time on before each instant [us]."""
    if not bit.count:
        return np.zeros(len(instants), np.int64)
    length = bit.end - bit.start
    before = np.cumsum(length) - length
    index = np.searchsorted(bit.start, instants, side="right") - 1
    at = np.clip(index, 0, None)
    inside = np.minimum(instants - bit.start[at], length[at])
    return np.where(index < 0, 0, before[at] + inside)


def overlap_us(a: Bit, b: Bit) -> int:
    """Time in which both are on [us]."""
    if not a.count or not b.count:
        return 0
    return int((covered_until(a, b.end) - covered_until(a, b.start)).sum())


def relation(a: Bit, b: Bit) -> Relation:
    """How b lies to a."""
    seen = np.flatnonzero(b.start_seen)
    host = at_instants(a, b.start[seen])
    inside = host >= 0
    both = overlap_us(a, b)
    into = float(inside.mean()) if len(seen) else 0.0
    inner, hosts = seen[inside], host[inside]
    first = np.append(True, hosts[1:] != hosts[:-1]) if len(hosts) else np.array([], bool)
    last = np.append(hosts[1:] != hosts[:-1], True) if len(hosts) else first
    good = a.start_seen[hosts] & first
    rise = (b.start[inner[good]] - a.start[hosts[good]]) / 1e6 if len(hosts) else _NONE
    done = last & a.end_seen[hosts] & b.end_seen[inner]
    fall = (b.end[inner[done]] - a.end[hosts[done]]) / 1e6 if len(hosts) else _NONE
    return Relation(
        into=into,
        answered=float(first.sum()) / a.count if a.count else 0.0,
        covered=both / b.on_us if b.on_us else 0.0,
        covers=both / a.on_us if a.on_us else 0.0,
        rise=Lag(rise),
        fall=Lag(fall),
    )


def exclusive(a: Bit, b: Bit, slack: float = 0.01) -> bool:
    """Whether the two are practically never on together."""
    return overlap_us(a, b) <= slack * min(a.on_us, b.on_us)


def next_after(instants: Longs, starts: Longs) -> Seconds:
    """Seconds from each instant to the first start at or after it; inf: none follows."""
    index = np.searchsorted(starts, instants, side="left")
    known = index < len(starts)
    gap = np.full(len(instants), np.inf)
    gap[known] = (starts[index[known]] - instants[known]) / 1e6
    return gap


def coasting_at(bit: Bit, instants: Longs) -> Longs:
    """Number of the run that is on at each instant or ended within the coasting time before, else -1."""
    index = np.searchsorted(bit.start, instants, side="right") - 1
    on = index >= 0
    on[on] = bit.end[index[on]] + COAST_US >= instants[on]
    return np.where(on, index, -1)
