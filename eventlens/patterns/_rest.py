"""How long a brake may still confirm after its motion has come to rest."""

from __future__ import annotations

from typing import Any

from eventlens.limits import limit


def brake_rest_s() -> Any:
    """Longest time at rest with the confirmation still on that counts as a late brake [s]."""
    return limit(
        2.0,
        "s",
        "common practice: the slowest brakes set within about a second",
        "raising it calls a brake that stands open a late one; lowering it the other way round",
    )
