"""The findings with their occurrences, and what could not be assessed, as rows of texts and numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

import polars as pl

from dashboards import words
from dashboards.tables import Mark, Window
from dashboards.wallclock import WallClock, micros

PAGE: Final = 200
"""Occurrences in one page of the list."""
_KEY: Final = ("pattern", "motion", "signal")


@dataclass(frozen=True)
class Catalogue:
    """What patterns and signals are called."""

    titles: Mapping[str, str]
    """Pattern -> its short name in words."""
    units: Mapping[str, str]
    """Pattern -> unit of what it measures."""
    texts: Mapping[str, str]
    """Pattern -> what it is, why it asks for what it asks for, and what it usually comes from."""
    meanings: Mapping[str, str]
    """Signal -> its meaning when on, or what it measures."""
    severities: Sequence[str]
    """The most serious first."""


@dataclass(frozen=True)
class Found:
    """What a review found. Instants are microseconds in UTC."""

    findings: pl.DataFrame
    """(pattern, motion, signal, severity, count, certain_count, first, last, rate_per_hour, rate_low, rate_high,
    summary), the most serious first."""
    occurrences: pl.DataFrame
    """(pattern, motion, signal, start, end, certainty, measured, limit, direction, rows)."""
    not_assessed: pl.DataFrame
    """(pattern, motion, why, needs)."""


class Findings:
    """What was found in one review."""

    def __init__(self, found: Found, catalogue: Catalogue, clock: WallClock) -> None:
        self.found, self.catalogue, self.clock = found, catalogue, clock
        groups = found.occurrences.group_by(*_KEY, maintain_order=True)
        self._evidence = {_key(key): part for key, part in groups}

    def extent(self) -> Window | None:
        """From the first occurrence's start to the last one's end; None without occurrences."""
        if self.found.occurrences.is_empty():
            return None
        first, last = self.found.occurrences.select(pl.col("start").min(), pl.col("end").max()).row(0)
        return self.clock.window(micros(first), micros(last))

    def rows(self) -> list[dict[str, Any]]:
        """One row for each finding, the most serious first."""
        first, last = self.clock.texts(self.found.findings["first"]), self.clock.texts(self.found.findings["last"])
        return [
            {
                "key": _key(tuple(row[name] for name in _KEY)),
                "rank": self.catalogue.severities.index(row["severity"]),
                "severity": f"{words.SEVERITY_SIGN[row['severity']]} {words.SEVERITY[row['severity']]}",
                "level": row["severity"],
                "pattern": self.catalogue.titles[row["pattern"]],
                "motion": row["motion"] or "machine",
                "signal": _signal_name(row["signal"]),
                "count": row["count"],
                "certainty": _certainty(row["certain_count"], row["count"]),
                "rate": row["rate_per_hour"],
                "rate_text": _rate(row["rate_per_hour"], row["rate_low"], row["rate_high"]),
                "first": begin,
                "last": end,
                "summary": row["summary"],
                "meaning": self.catalogue.texts[row["pattern"]],
            }
            for row, begin, end in zip(self.found.findings.iter_rows(named=True), first, last, strict=True)
        ]

    def row(self, key: str) -> dict[str, Any] | None:
        """The finding with a key."""
        return next((row for row in self.rows() if row["key"] == key), None)

    def count(self, key: str) -> int:
        """How many occurrences a finding has."""
        return self._evidence[key].height

    def number_at(self, key: str, instant: str) -> int:
        """Number of the occurrence that began nearest to an instant (ISO 8601); the first where it is none."""
        try:
            wanted = datetime.fromisoformat(instant)
            away = (self._evidence[key]["start"] - wanted).dt.total_microseconds().abs()
        except (ValueError, TypeError, pl.exceptions.PolarsError):
            return 1
        return int(away.arg_min() or 0) + 1

    def occurrences(self, key: str, page: int) -> list[dict[str, Any]]:
        """One page of a finding's occurrences, numbered from 1."""
        part = self._evidence[key].slice(page * PAGE, PAGE)
        unit = self.catalogue.units[part["pattern"][0]] if part.height else ""
        begin, until = self.clock.texts(part["start"]), self.clock.texts(part["end"])
        return [
            {
                "id": f"{key}#{n}",
                "key": key,
                "number": n,
                "start": a,
                "end": b,
                "lasts": words.length((row["end"] - row["start"]) / timedelta(seconds=1)),
                "certainty": row["certainty"],
                "measured": _amount(row["measured"], unit),
                "limit": _amount(row["limit"], unit),
                "direction": row["direction"] or "–",
                "lines": words.lines(row["rows"]),
            }
            for n, row, a, b in zip(
                range(page * PAGE + 1, page * PAGE + 1 + part.height),
                part.iter_rows(named=True),
                begin,
                until,
                strict=True,
            )
        ]

    def mark(self, key: str, number: int) -> Mark:
        """The occurrence of a finding, numbered from 1, as a mark in the lanes."""
        part = self._evidence[key]
        row = part.row(number - 1, named=True)
        window = self.clock.window(micros(row["start"]), micros(row["end"]))
        return Mark(window, f"{self.catalogue.titles[row['pattern']]}, {number} of {part.height}")

    def not_assessed(self) -> list[dict[str, str]]:
        """What this log cannot show, why, and what would make it."""
        return [
            {
                "pattern": self.catalogue.titles[row["pattern"]],
                "motion": row["motion"] or "machine",
                "why": words.WHY[row["why"]],
                "needs": f"{words.REMEDY[row['why']]} " + " and ".join(self._need(need) for need in row["needs"]),
            }
            for row in self.found.not_assessed.iter_rows(named=True)
        ]

    def _need(self, need: str) -> str:
        """A signal with its meaning; other needs as they are."""
        if "*" in need:
            return f"{need} (either direction)"
        meaning = self.catalogue.meanings.get(need)
        return f"{need} ({meaning})" if meaning else need


def _key(parts: tuple[Any, ...]) -> str:
    return "/".join(str(part or "") for part in parts)


def _signal_name(signal: str | None) -> str:
    if signal is None:
        return "–"
    motion = words.motion_of(signal)
    name = words.lane_name(signal, motion)
    return f"{motion} {name}" if motion else name


def _certainty(certain: int, count: int) -> str:
    if certain == count:
        return "certain"
    return f"{certain} certain, {count - certain} possible" if certain else "only possible"


def _rate(value: float | None, low: float | None, high: float | None) -> str:
    if value is None or low is None or high is None:
        return "–"
    return f"{value:.3g} ({low:.2g} to {high:.2g})"


def _amount(value: float | None, unit: str) -> str:
    return f"{words.number(value)} {unit}" if value is not None else "–"
