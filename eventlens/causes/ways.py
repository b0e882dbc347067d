"""Names of signals with placeholders, and the ways in which a log may carry what is needed."""

from __future__ import annotations

from itertools import product
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from eventlens import signals

Text = Annotated[str, Field(min_length=1)]


def _ways(value: Any) -> Any:
    """One flat list is one way."""
    return [value] if isinstance(value, list) and value and all(isinstance(one, str) for one in value) else value


Ways = Annotated[tuple[tuple[Text, ...], ...], BeforeValidator(_ways)]
"""Alternatives, each a set of signals that suffices; empty: no signal is needed. Names may hold {motion}, {direction},
{opposite} and {another} (a direction of another motion)."""


def spelled(ways: Ways, motion: str, direction: str | None = None) -> tuple[tuple[str, ...], ...]:
    """The ways with the names of a motion's signals; of either direction where none is given.

    A way that the motion has no signal for is left out. Raises KeyError for an unknown placeholder.
    """
    directions = signals.MOTIONS[motion] if direction is None else (direction,)
    others = [f"{m}.{d}" for m, pair in signals.MOTIONS.items() if m != motion for d in pair]
    found: list[tuple[str, ...]] = []
    for way, one, another in product(ways, directions, others):
        opposite = signals.opposite(motion, one)
        names = (
            name.format_map({"motion": motion, "direction": one, "opposite": opposite, "another": another})
            for name in way
        )
        found.append(tuple(names))
    return tuple(dict.fromkeys(way for way in found if all(name in signals.ALL for name in way)))
