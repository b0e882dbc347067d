"""What the pages and figures are given: plain values, no knowledge of how they were made.

Places on the time axis are wall-clock milliseconds (see wallclock); every array is one value for each bin.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from dashboards.bins import Reals

Window = tuple[float, float]
"""From, to on the time axis [ms]."""


@dataclass(frozen=True)
class Used:
    """How much of something is used."""

    name: str
    share: float
    until: str
    """When it will be used up, with its interval, in words."""
    year: tuple[float, float] | None = None
    """Share that will be used a year after the log, lowest and highest of the interval; None where it has none."""


@dataclass(frozen=True)
class LifeFacts:
    """What the use means for one motion's mechanism."""

    motion: str
    work: str
    used: tuple[Used, ...]
    facts: tuple[tuple[str, str], ...]
    """Label and text; a text without a label goes on with the one before."""


@dataclass(frozen=True)
class Kind:
    """A usual kind of runs of a motion, or of work cycles."""

    subject: str
    said: str
    """In plain words."""
    count: int
    share: float


@dataclass(frozen=True)
class Kinds:
    """The kinds of work in a log."""

    kinds: tuple[Kind, ...]
    """By subject, the most frequent first."""
    notes: tuple[str, ...]
    """Of what there is too little log."""
    reading: str


@dataclass(frozen=True)
class Lane:
    """One signal that is on or off."""

    signal: str
    motion: str
    """The motion it belongs to; empty for the machine as a whole."""
    name: str
    """In words, without the motion."""
    alert: str | None
    """'on' or 'off' where that state needs a person."""


@dataclass(frozen=True)
class LaneBins:
    """Every lane in equal bins; arrays are (lanes, bins)."""

    code: npt.NDArray[np.uint8]
    """bins.UNKNOWN, OFF, PARTLY or ON."""
    on_s: npt.NDArray[np.float32]
    """Time on [s]."""
    times: npt.NDArray[np.int64]
    """How many times it was on, also for a moment."""
    known: npt.NDArray[np.bool_]
    """Whether its state is known for any time at all, also for a moment."""


@dataclass(frozen=True)
class Measure:
    """One measured signal in equal bins: least and largest value held; NaN where none is known."""

    name: str
    low: Reals
    high: Reals
    rated: float | None
    """The machine's rated value, where there is one."""


@dataclass(frozen=True)
class LanesView:
    """What the lanes show of a window: bins, or every interval exactly."""

    lanes: tuple[Lane, ...]
    window: Window
    bins: int
    binned: LaneBins | None
    """None where the intervals are drawn exactly."""
    intervals: pl.DataFrame | None
    """(lane: index, on, at: from [ms], length [ms], begin, until, lasts: texts, lines: text)."""
    unknown: pl.DataFrame
    """(lane, at [ms], length [ms], begin, until: texts): stretches in which the lane's state is not known, or in bins
    is not known for all of the bin."""
    measures: tuple[Measure, ...]
    clock: str
    """Name of the zone."""
    steps: tuple[float, ...]
    """Places where the log's clock was set."""


@dataclass(frozen=True)
class Mark:
    """One occurrence, to be marked in the lanes."""

    window: Window
    label: str


@dataclass(frozen=True)
class DutyView:
    """A sliding count or share of one motion over the whole log, against its limit."""

    motion: str
    at: Reals
    """Beginning of each bin [ms]."""
    value: Reals
    """Largest value in each bin."""
    limit: float | None
    source: str
    """Where the limit comes from, or what the machine file must say for one."""
    peak: float | None
    peak_at: str
    """When the largest value was first reached."""
    above: int
    """Separate stretches above the limit."""
    hours: pl.DataFrame
    """(at [ms], count) for each clock hour; empty for a share."""
    holes: tuple[Window, ...]
    window_s: float
    clock: str
    span: Window


@dataclass(frozen=True)
class MotionFacts:
    """One motion at a glance."""

    motion: str
    starts: int
    runs: int
    running: str
    fast: str | None
    jogs: int
    reversals: int
    peak: float | None
    limit: float | None
    endings: dict[str, int]
    windings: tuple[tuple[str, str], ...] = ()
    """Label and text for each winding of a two-speed motor; a text without a label is about all of them."""


@dataclass(frozen=True)
class SpreadView:
    """One measured time of a motion's runs."""

    title: str
    borders: Reals
    """Of the bins [s]; no bin is narrower than the log step."""
    share: Reals
    """Of the runs in each bin [%]."""
    count: int
    median: float
    """[s]."""
    high: float
    """95th percentile [s]."""
    beyond: int
    """Runs on the wrong side of the limit."""
    limit: float
    """Shipped or of the machine file [s]."""
    limit_name: str
    least: bool
    """Whether times should be longer than the limit, not shorter."""
    reading: str


@dataclass(frozen=True)
class LogFacts:
    """The log and the machine, in texts."""

    machine: str
    group: str
    """Group and rated load."""
    span: str
    zone: str
    observed: str
    step: str
    uncertainty: str
    gaps: str
    """Holes and clock steps in words; empty where there are none."""
    set_aside: str
    """Rows that were not understood, in words; empty where there are none."""
    proves: tuple[str, ...]
    """What the log can and cannot prove, one sentence each."""
    files: tuple[str, ...]
    notes: tuple[str, ...]
