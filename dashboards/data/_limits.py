"""Limits of measured times, as the patterns hold them, and bins in which runs are counted against them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from dashboards.bins import Reals
from eventlens.limits import configure
from eventlens.patterns import brake_apply_late, brake_release_late, contactor_late, speed_change_short

Limited = tuple[float, str, bool]
"""The limit [s], its name, and whether times should be longer than it."""
BINS: Final = 60


def limit_of(time: str, limits: Mapping[str, float]) -> Limited:
    """The limit of a measured time (a column of schema.RUNS). limits: those of a machine file."""
    return _LIMITS[time](limits)


def borders(sides: Iterable[Any], limit: float, step_s: float) -> Reals:
    """Borders of equal bins from 0 to a little more than limit and nearly all runs, each a whole number of log steps;
    the last bin takes what lies beyond. sides: times [s]."""
    most = max(1.15 * limit, *(1.1 * float(np.quantile(one, 0.995)) for one in sides))
    steps = max(1, round(most / BINS / step_s)) if step_s > 0 else 1
    width = steps * step_s if step_s > 0 else most / BINS
    # a time that is a whole number of steps lies in the middle of its bin, whatever binary fractions make of it
    return np.arange(-0.5 * width, most + width, width)


def shares(times: Reals, edges: Reals) -> Reals:
    """Of the times in each bin [%]."""
    return np.asarray(100 * np.histogram(np.clip(times, edges[0], edges[-1]), edges)[0] / len(times), np.float64)


def beyond(times: Reals, limit: float, *, least: bool) -> int:
    """How many lie on the wrong side of the limit."""
    return int(((times < limit) if least else (times > limit)).sum())


def _short(limits: Mapping[str, float]) -> Limited:
    own = configure(speed_change_short.Parameters, limits)
    name = "speed_change_least × speed_change_delay_s"
    return round(own.speed_change_least * own.speed_change_delay_s, 6), name, True


_LIMITS: Final[Mapping[str, Callable[[Mapping[str, float]], Limited]]] = MappingProxyType(
    {
        "contactor_delay_s": lambda own: (
            configure(contactor_late.Parameters, own).contactor_late_s,
            "contactor_late_s",
            False,
        ),
        "release_time_s": lambda own: (
            configure(brake_release_late.Parameters, own).brake_release_s,
            "brake_release_s",
            False,
        ),
        "apply_time_s": lambda own: (configure(brake_apply_late.Parameters, own).brake_apply_s, "brake_apply_s", False),
        "speed_change_delay_s": _short,
    }
)
