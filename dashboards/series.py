"""What the pages of weeks and machines are given: plain values, no knowledge of how they were made.

Places of weeks are their number from the first week of the history on, so that weeks without a log keep their place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

Reals = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Change:
    """A change in one sentence."""

    level: str
    """The severity that it asks for, or 'calm' where it asks for nobody."""
    machine: str
    series: str
    """Key of the pattern whose weeks show it; empty for a measured time."""
    text: str


@dataclass(frozen=True)
class Scale:
    """How rates are written: times a round number, in a unit."""

    per: float
    """1, 10, 100, ...: rates are given for so much use."""
    unit: str
    """As 'per 1,000 starts'."""


@dataclass(frozen=True)
class Work:
    """Work on a machine that people wrote down."""

    at: float
    """Its place among the weeks."""
    text: str
    """Day, kind and what was written."""


@dataclass(frozen=True)
class WeeklyView:
    """A pattern of one machine over the weeks, as rates times scale.per."""

    title: str
    """Pattern and motion."""
    weeks: tuple[str, ...]
    """Every ISO week from the first to the last of the history, those without a log too."""
    frame: pl.DataFrame
    """(week, at, count, amount, rate, low, high, chart_low, chart_high, kind) by week; kind is 'usual', 'above',
    'below' (beyond the limits of the chart), 'little' (so little log that it could show next to nothing) or 'apart'
    (not judged as the latest week was). chart_low and chart_high are null off the chart."""
    mean: float | None
    recent: tuple[int, int]
    """Places of the first and last of the weeks that are held against those before."""
    works: tuple[Work, ...]
    scale: Scale
    reading: str


@dataclass(frozen=True)
class TimeView:
    """The weekly medians of one measured time of one machine [s]."""

    title: str
    weeks: tuple[str, ...]
    frame: pl.DataFrame
    """(week, at, median, n, step) by week: the median, how many runs, the log step [s]."""
    level: tuple[tuple[float, float, float, float], ...]
    """Lines that describe it: place and time of one end, and of the other. Empty where no drift is shown."""
    drifts: bool
    needs: bool
    """Whether the drift needs a person."""
    works: tuple[Work, ...]
    reading: str


@dataclass(frozen=True)
class Ahead:
    """A forecast as lines from the last week on; places [ms since 1970], shares of the period."""

    start: float
    used: float
    """At the start."""
    until: float
    """How far it is drawn."""
    middle: float
    """Share at `until`, at the rate of the weeks."""
    low: float | None
    """The same by the limits of the rate (95 %)."""
    high: float | None
    ends: float
    """When all is used at this rate."""
    earliest: float | None
    latest: float | None
    """Its limits (95 %); None: not known, or later than can be drawn."""


@dataclass(frozen=True)
class LifeView:
    """The safe working period of one machine over the weeks."""

    weeks: tuple[str, ...]
    frame: pl.DataFrame
    """(week, at, end [ms since 1970], full_load_h, used_h, used_share, little) by week."""
    duration_h: float
    """Hours of full load that its group lasts."""
    h_per_week: float | None
    ahead: Ahead | None
    """None where there is no forecast or nothing is left."""
    reading: str
    """One sentence on the hours of the weeks."""


@dataclass(frozen=True)
class WorkKind:
    """A kind of work, found in all weeks together."""

    number: int
    """1: the most frequent."""
    words: str


@dataclass(frozen=True)
class WorkView:
    """The kinds of runs of a motion, or of work cycles, over the weeks."""

    title: str
    weeks: tuple[str, ...]
    frame: pl.DataFrame
    """(week, at, kind, count, whole, share, low, high, few) by kind and week; shares and limits from 0 to 1."""
    kinds: tuple[WorkKind, ...]
    recent: tuple[int, int]
    """Places of the first and last of the weeks that are held against those before."""
    works: tuple[Work, ...]


@dataclass(frozen=True)
class WorkOverWeeks:
    """What a machine was used for, week by week."""

    views: tuple[WorkView, ...]
    """One of each subject that has several kinds."""
    rows: tuple[dict[str, Any], ...]
    """(key, subject, kind, words, share, past, recent, change, verdict) of each kind."""
    reading: str
    notes: tuple[str, ...]
    """How kinds are found, of what there is too little, and what weeks lack."""


@dataclass(frozen=True)
class FunnelView:
    """Machines side by side for one pattern: rates (times scale.per) over their use."""

    title: str
    frame: pl.DataFrame
    """(machine, count, amount, rate, low, high, low_outer, high_outer, beyond, bursts) by use; bursts: by what factor
    occurrences of the machine vary more than single ones would, 1 where they do not."""
    centre: float
    use: Reals
    """Use at which the limits are drawn."""
    limits: tuple[Reals, Reals, Reals, Reals]
    """Inner low and high, outer low and high, at `use`."""
    of: str
    """What the use is, as 'starts'."""
    scale: Scale
    reading: str
