"""The parts of a motion, as behaviour shows them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from eventlens.reading.suggest.bits import Bit
from eventlens.reading.suggest.edges import Relation

Relations = Mapping[tuple[str, str], Relation]
Channel = tuple[str, ...]
"""A direction: its command and contactor, or one bit of which it is not known which of the two it is."""


@dataclass(frozen=True)
class Part:
    """One bit with its part in a motion: 'x' and 'y' are the two directions, 'run' is a command or a contactor."""

    bit: Bit
    role: str
    sure: float
    reason: str


@dataclass
class Group:
    """The bits of one motion."""

    parts: list[Part] = field(default_factory=list)
    motion: dict[str, float] = field(default_factory=dict)
    """Evidence for each motion, as odds; empty: none."""
    first_odds: float = 1.0
    """Odds that x is the motion's first direction (raise)."""
    why_motion: str = ""
    why_first: str = ""

    def of(self, *roles: str) -> Bit | None:
        """The first bit with one of these roles."""
        for role in roles:
            for part in self.parts:
                if part.role == role:
                    return part.bit
        return None

    def run(self, way: str) -> Bit | None:
        """What runs of a direction are read from."""
        return self.of(f"{way}.contactor", f"{way}.run", f"{way}.command")

    @property
    def paired(self) -> bool:
        return self.run("x") is not None and self.run("y") is not None
