"""A kind of work in plain words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

MOSTLY: Final = 0.5
"""Share from which on something is mostly so, below SOME hardly ever (common usage of the words)."""
SOME: Final = 0.1


def words_of(kind: Mapping[str, Any]) -> Iterator[str]:
    """The words for a row of schema.KINDS: length, speed, direction, load, motions."""
    cycles = kind["subject"] == "work cycles"
    length, low, high = (_span(kind[name]) for name in ("length_s", "length_low_s", "length_high_s"))
    what = "cycles" if cycles else "runs"
    yield f"{what} of about {length} (eight in ten between {low} and {high})"
    if cycles:
        yield f"{kind['starts']:.0f} starts each" if kind["starts"] >= 1.5 else "one start each"
    if kind["direction"] is not None:
        yield f"nearly always {kind['direction']}"
    elif not cycles:
        yield "both ways"
    if kind["fast"] is not None:
        yield _speed(kind["fast"])
    if kind["load"] is not None:
        yield _load(kind["load"], kind["load_unit"])
    if kind["together"] >= MOSTLY:
        yield "another motion runs at the same time"
    elif kind["together"] >= SOME:
        yield "at times another motion runs too"
    if cycles and kind["travel"] >= SOME:
        yield "mostly travel" if kind["travel"] >= MOSTLY else "hoisting with some travel"
    elif cycles:
        yield "hoisting alone"


def _speed(share: float) -> str:
    if share >= MOSTLY:
        return "mostly fast"
    return "partly fast" if share >= SOME else "slow"


def _load(load: float, unit: str) -> str:
    if unit == "kg":
        return f"with about {load:.3g} kg"
    return "hook empty or nearly" if load < SOME else f"with about {100 * load:.0f} % of the rated load"


def _span(length_s: float) -> str:
    return f"{length_s:.2g} s" if length_s < 100 else f"{length_s / 60:.2g} min"
