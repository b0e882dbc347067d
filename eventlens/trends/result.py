"""What trends are: every table, and their JSON form (contract 1)."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

import polars as pl

from eventlens.contract import CONTRACT
from eventlens.json_text import number
from eventlens.trends.work import WorkTrends, work_trends


@dataclass(frozen=True)
class Trends:
    """The weeks of one machine or of a fleet."""

    machines: tuple[str, ...]
    weeks: tuple[str, ...]
    """ISO weeks of the history, ascending; those that nobody logged are not among them."""
    recent: tuple[str, ...]
    """The last of them, which are held against those before."""
    confidence: float
    """Of intervals, two-sided; the share of false changes among those that are reported is at most the rest."""
    false_alarm: float
    """Nominal rate of false alarms of each week on a chart."""
    rates: pl.DataFrame
    """tables.TRENDS."""
    weekly: pl.DataFrame
    """tables.TREND_WEEKS."""
    comparisons: int
    """How many patterns of machines were tested for a trend: the p-values are adjusted for so many."""
    times: pl.DataFrame
    """tables.DRIFTS."""
    times_compared: int
    """How many measured times were tested, adjusted for apart from the rates."""
    funnel: pl.DataFrame
    """tables.FUNNEL."""
    fleet: pl.DataFrame
    """tables.FLEET, the machine that needs a person first at the top."""
    life: pl.DataFrame
    """tables.LIFE: what is used of the safe working period, and until when it lasts."""
    life_weeks: pl.DataFrame
    """tables.LIFE_WEEKS."""
    worked: pl.DataFrame
    """schema.WEEK_WORK: what the kinds of work are found in."""
    notes: tuple[str, ...]
    """What limits the answer, one sentence each."""
    cautions: tuple[str, ...]

    @cached_property
    def work(self) -> WorkTrends:
        """The kinds of work over the weeks, of all machines; worked out when it is first asked for (a tenth of a second
        for each machine, and a second once)."""
        return work_trends(self.worked, self.recent, self.confidence)

    def work_of(self, machine: str) -> WorkTrends:
        """The same of one machine."""
        return work_trends(self.worked.filter(pl.col("machine") == machine), self.recent, self.confidence)

    def to_json(self, *, indent: int | None = 2) -> str:
        """The trends as JSON; the same weeks give the same text, byte for byte."""
        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False) + "\n"

    def to_dict(self) -> dict[str, Any]:
        """Plain dictionaries, lists, numbers and texts."""
        return {
            "contract": CONTRACT,
            "machines": list(self.machines),
            "weeks": list(self.weeks),
            "recent": list(self.recent),
            "confidence": number(self.confidence),
            "false_alarm_per_week": number(self.false_alarm),
            "fleet": _rows(self.fleet),
            "comparisons": self.comparisons,
            "rates": _rows(self.rates),
            "weekly": _rows(self.weekly),
            "times_compared": self.times_compared,
            "times": _rows(self.times),
            "funnel": _rows(self.funnel),
            "life": _rows(self.life),
            "life_weeks": _rows(self.life_weeks),
            "work": {
                "kinds": _rows(self.work.kinds),
                "weekly": _rows(self.work.weekly),
                "notes": list(self.work.notes),
            },
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }


def _rows(frame: pl.DataFrame) -> list[dict[str, Any]]:
    """The rows with their numbers as the contract writes them; p-values keep what is left of them below 1e-9."""
    return [{name: _value(name, value) for name, value in row.items()} for row in frame.iter_rows(named=True)]


def _value(name: str, value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    if not isinstance(value, float):
        return value
    if not math.isfinite(value):
        return None
    return value if name == "p" or name.startswith("p_") else number(value)
