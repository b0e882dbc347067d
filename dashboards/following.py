"""What the live page is given: plain values, no knowledge of how they were made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import polars as pl

FOLLOWS, SILENT, ENDED = "follows", "silent", "ended"
"""How it is with a follower: he speaks; he has fallen silent; he has said that he ends."""


@dataclass(frozen=True)
class Told:
    """One finding as it was told last."""

    key: str
    """What all messages about it have in common."""
    number: int
    """Of the message that told it first: the order in which findings became certain."""
    latest: int
    """Of the last message about it."""
    level: str
    """The severity that it asks for."""
    title: str
    """Motion and pattern."""
    start: str
    """When it began, by the machine's clock."""
    facts: str
    """How certain, what was measured, which lines prove it."""
    delay: str
    """How soon it was told, and after how much of the log."""
    told_at: str
    status: str
    """found, changed or withdrawn."""
    why: str
    """Why it is told again; empty where it was not."""
    href: str
    """Where its signals are shown; empty where they cannot be yet."""
    moment: datetime
    """When it was told first."""

    @property
    def holds(self) -> bool:
        """Whether it was not withdrawn."""
        return self.status != "withdrawn"


@dataclass(frozen=True)
class Arrivals:
    """Which minutes of the last hours brought lines. Places are wall-clock milliseconds (see wallclock)."""

    frame: pl.DataFrame
    """(at [ms], lines: null where nobody followed) for each minute."""
    told: pl.DataFrame
    """(at [ms], level, title) of findings, by when they were told."""
    window: tuple[float, float]
    clock: str
    reading: str


@dataclass(frozen=True)
class Follower:
    """How it is with one record that is, or was, followed."""

    key: str
    machine: str
    source: str
    how: str
    """FOLLOWS, SILENT or ENDED."""
    level: str
    """'watch' where a person should look after the follower or its source; else 'calm'."""
    head: str
    """The same in a few words."""
    more: str
    """What else there is to say of it."""
    at: datetime
    """Its last word."""
    number: int
    """Of the last message that it told."""


@dataclass(frozen=True)
class LiveView:
    """Everything that the page shows of one record."""

    follower: Follower
    zone: str
    facts: tuple[tuple[str, str], ...]
    told: tuple[Told, ...]
    """The latest first."""
    earlier: int
    """Findings before these."""
    asks: tuple[tuple[str, int], ...]
    """Severities of the findings that hold, the most serious first, and how many ask for each."""
    notes: tuple[tuple[str, str], ...]
    """When and what, the latest first."""
    earlier_notes: int
    arrivals: Arrivals
    review: str
    """Where the record so far is reviewed; empty where it cannot be."""
    moment: int
    """Of the view: the chart is drawn anew with it."""
