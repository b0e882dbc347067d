"""What the page about a repair is given: plain values, no knowledge of how they were made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

Reals = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Written:
    """Work on the machine that people wrote down."""

    key: str
    """Its time in the zone of the log, as 2026-04-27T06:00: what the address calls it."""
    at: str
    """The same for people."""
    text: str
    """Kind and what was written; of several entries of one instant all of them."""
    usable: bool
    """Whether there is log on both sides of it."""
    moment: datetime


@dataclass(frozen=True)
class Rated:
    """A pattern before and after."""

    name: str
    brief: str
    """The name within a sentence."""
    series: str
    """Key of the pattern whose weeks show it."""
    severity: str
    verdict: str
    """One of schema.VERDICTS."""
    before: str
    """As '11 in 400 starts'."""
    after: str
    ratio: str
    """The rate after over that before, with its limits, in words."""
    outlook: str
    """How long to watch, or what the comparison could have seen."""
    value: float | None
    low: float | None
    """Exact limits of the ratio; None: no use since, so that there is nothing to draw."""
    high: float | None
    """None with a low: without bound."""


@dataclass(frozen=True)
class TimesView:
    """One measured time of the runs before and after."""

    title: str
    borders: Reals
    """Of the bins [s]; no bin is narrower than the log step."""
    shares: tuple[Reals, Reals]
    """Before and after: of the runs of each side in each bin [%]."""
    counts: tuple[int, int]
    medians: tuple[float, float]
    high: tuple[float, float]
    """95th percentiles."""
    beyond: tuple[int, int]
    """Runs on the wrong side of the limit."""
    limit: float
    """Shipped or of the machine file [s]."""
    limit_name: str
    least: bool
    """Whether times should be longer than the limit, not shorter."""
    moved: str
    """How far it moved, in words."""
    verdict: str
    """One of schema.TIMES_VERDICTS."""
    drifts: tuple[str, str]
    """How it drifts within each side, in words; empty where none is shown."""
    reading: str


@dataclass(frozen=True)
class Told:
    """Whether a fault went with an exchanged part."""

    name: str
    verdict: str
    first: tuple[str, str]
    """Before and after at the first place."""
    second: tuple[str, str]
    why: str
