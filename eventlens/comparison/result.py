"""What a comparison is: every table of before against after, and its JSON form (contract 1)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from eventlens.contract import CONTRACT
from eventlens.json_text import number, stamp
from eventlens.result import Review


@dataclass(frozen=True)
class Comparison:
    """One machine before a repair against the same machine after it."""

    before: Review
    after: Review
    at: datetime | None
    """Where one log was cut; None: two logs."""
    until: datetime | None
    """End of the work on the machine, where it was given: what lies between is on neither side."""
    confidence: float
    """Of every interval, two-sided; the share of false changes among those that are reported is at most the rest."""
    patterns: pl.DataFrame
    """schema.COMPARISON: every pattern that either side shows."""
    not_compared: pl.DataFrame
    """schema.NOT_COMPARED: patterns that one side shows and the other cannot tell of."""
    comparisons: int
    """How many rates were compared: the p-values are adjusted for so many."""
    times: pl.DataFrame
    """schema.TIMES."""
    times_compared: int
    """How many measured times were compared, adjusted for apart from the rates."""
    moved: pl.DataFrame
    """schema.MOVED; empty unless exchanges were named."""
    exchanges: tuple[str, ...]
    """The exchanges as they were named: 'A:B'."""
    notes: tuple[str, ...]
    """What makes the two sides less alike than they should be, one sentence each."""
    cautions: tuple[str, ...]

    def to_json(self, *, indent: int | None = 2) -> str:
        """The comparison as JSON; the same logs give the same text, byte for byte."""
        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False) + "\n"

    def to_dict(self) -> dict[str, Any]:
        """Plain dictionaries, lists, numbers and texts. Times are RFC 3339 in the zone of the log before."""
        zone = ZoneInfo(self.before.log.timezone)
        return {
            "contract": CONTRACT,
            "machine": {"id": self.before.machine.machine.id},
            "at": stamp(self.at, zone) if self.at else None,
            "until": stamp(self.until, zone) if self.until else None,
            "confidence": number(self.confidence),
            "before": _side(self.before),
            "after": _side(self.after),
            "comparisons": self.comparisons,
            "patterns": _rows(self.patterns),
            "not_compared": self.not_compared.to_dicts(),
            "times_compared": self.times_compared,
            "times": _rows(self.times),
            "exchanges": list(self.exchanges),
            "moved": _rows(self.moved),
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }


def _side(review: Review) -> dict[str, Any]:
    log, zone = review.log, ZoneInfo(review.log.timezone)
    return {
        "files": [{"name": file.name, "sha256": file.sha256} for file in log.files],
        "start": stamp(log.start, zone),
        "end": stamp(log.end, zone),
        "observed_s": number(log.observed_s),
        "step_s": number(log.step_s),
        "motions": {
            motion: {"starts": counts.starts, "running_s": number(counts.running_s)}
            for motion, counts in review.motions.items()
        },
    }


def _rows(frame: pl.DataFrame) -> list[dict[str, Any]]:
    """The rows with their numbers as the contract writes them; p-values keep what is left of them below 1e-9."""
    return [
        {name: number(value) if isinstance(value, float) and name[:1] != "p" else value for name, value in row.items()}
        for row in frame.iter_rows(named=True)
    ]
