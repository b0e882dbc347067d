"""From one review to what its page shows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from types import MappingProxyType
from typing import Final

import numpy as np
import polars as pl

from dashboards import bins, words
from dashboards.data._kinds import kinds
from dashboards.data._spread import spreads
from dashboards.findings import Catalogue, Findings, Found
from dashboards.lanes import Lanes, Record
from dashboards.tables import DutyView, Kinds, LifeFacts, LogFacts, MotionFacts, SpreadView, Used, Window
from dashboards.wallclock import WallClock, micros, whole
from eventlens import patterns, schema, signals
from eventlens.duty import cyclic, starts
from eventlens.duty.counts import MotionCounts
from eventlens.duty.windows import HOUR_S, TEN_MINUTES_S, Peak
from eventlens.life.forecast import Rate
from eventlens.life.outcome import MotionLife
from eventlens.motion import RecordAxis
from eventlens.reading.log import Log
from eventlens.report import life
from eventlens.report.causes import INTRODUCTION, Complaint, NextCheck, Told, complaints, dangers, next_check
from eventlens.report.motions import windings
from eventlens.report.words import Clock
from eventlens.result import Review

__all__ = ["INTRODUCTION", "Complaint", "NextCheck", "Review", "Told", "Week"]

NARROWEST_S: Final = 0.1
"""Narrowest window [s]; a controller's scan is hardly shorter than a tenth of it."""
MARGIN_S: Final = 2.0
"""Least time shown before and after an occurrence [s]: the command, contactor and brake around it."""
YEAR_DAYS: Final = 365
DUTY_BINS: Final = 700
"""Points of a sliding curve: about one for each pixel of its chart; each is the largest value in its bin."""


@dataclass(frozen=True)
class Causes:
    """What most likely causes what was found, and what to look at next."""

    complaints: tuple[Complaint, ...]
    dangers: tuple[str, ...]
    next_check: NextCheck | None
    made: tuple[str, ...] = ()
    """Outcomes of checks that the reader has stated, as he stated them."""

    @classmethod
    def of(cls, review: Review) -> Causes:
        """The causes as the review has them."""
        return cls(tuple(complaints(review)), tuple(dangers(review)), next_check(review))


class Week:
    """One review, made ready to be looked at."""

    def __init__(self, review: Review) -> None:
        self.review = review
        log = review.log
        first, last = _bounds(log)
        self.clock = WallClock.of(first, last, log.timezone, log.step_s)
        self.lanes = Lanes(_record(review), self.clock)
        self.duty = Duty(review, self.clock)
        self.findings = Findings(
            Found(review.findings, review.occurrences, review.not_assessed), _catalogue(), self.clock
        )
        self.facts = _log(review, self.clock)
        self.motions = _motions(review)
        self.life = _life(review)
        self.causes = Causes.of(review)
        self.severities = _severities(review)
        """The findings of each severity in a few words, the most serious first."""
        self.history = tuple(
            (self.clock.short(one.at), one.kind.replace("_", " "), one.text, one.counts or "shown, changes nothing")
            for one in review.history
        )
        """What people wrote down that concerns the log: when, kind, text, and how it counts."""
        self.cautions = review.cautions
        """What holds before anybody touches the machine."""
        self.whole = self.clock.window(micros(first), max(micros(last), micros(first) + 1))
        """The whole log."""

    @cached_property
    def kinds(self) -> Kinds:
        """The usual kinds of work; worked out when it is first asked for."""
        return kinds(self.review)

    @cached_property
    def spreads(self) -> list[SpreadView]:
        """How the measured times of the runs are spread, against their limits."""
        return spreads(self.review)

    def after(self, made: Sequence[str]) -> Causes:
        """The causes after checks on the machine, each as 'relay_seat:interface_relay=negative', in their order.

        EventlensError for what is no outcome of a check of one of the likely causes.
        """
        return replace(Causes.of(self.review.with_checks(made)), made=tuple(made)) if made else self.causes

    def fitted(self, window: Window) -> Window:
        """The window moved and cut so that it shows something: not narrower than NARROWEST_S, not beside the log.

        An occurrence may begin before the log (a sliding hour that is too full, say): then the window may as well.
        """
        found = self.findings.extent() or self.whole
        first, last = min(found[0], self.whole[0]), max(found[1], self.whole[1])
        width = min(max(window[1] - window[0], NARROWEST_S * 1000), last - first)
        start = min(max((window[0] + window[1] - width) / 2, first), last - width)
        return start, start + width

    def around(self, key: str, number: int) -> Window:
        """A window that shows an occurrence (of a finding, from 1) with some of what came before and after it."""
        start, end = self.findings.mark(key, number).window
        margin = max(MARGIN_S * 1000, 0.75 * (end - start))
        return self.fitted((start - margin, end + margin))


def _bounds(log: Log) -> tuple[datetime, datetime]:
    """Earliest and latest instant of a log; where its clock was set back these are not its first and last record."""
    first, last = log.segments.select(pl.col("start").min(), pl.col("end").max()).row(0)
    return first, last


def _record(review: Review) -> Record:
    measured = pl.col("signal").cast(pl.String).is_in(list(signals.MEASURES))
    return Record(
        states=review.states,
        events=review.log.events.filter(measured),
        segments=review.log.segments,
        steps=review.log.clock_steps["at"],
        order=signals.ALL,
        rated_load_kg=review.machine.machine.rated_load_kg,
    )


def _catalogue() -> Catalogue:
    known = patterns.catalogue()
    return Catalogue(
        titles={name: pattern.title for name, pattern in known.items()},
        units={name: pattern.unit for name, pattern in known.items()},
        texts={name: _text(pattern) for name, pattern in known.items()},
        meanings=MappingProxyType({**signals.STATES, **signals.MEASURES}),
        severities=schema.SEVERITIES,
    )


def _text(pattern: patterns.Pattern) -> str:
    """What a reader of a finding needs of the catalogue."""
    asks = words.SEVERITY[pattern.severity]
    return f"{pattern.meaning} Asks for {asks}: {pattern.why_severity}. Usually: {pattern.usually}."


class Duty:
    """Starts and running time of one review."""

    def __init__(self, review: Review, clock: WallClock) -> None:
        self.review, self.clock = review, clock
        segments = RecordAxis.of(review.log).shifts["segment"]
        clocks = segments.search_sorted(review.runs["segment"], side="right")
        self._runs = review.runs.with_columns(clock=clocks.cast(pl.UInt32))
        start, end = (micros(bound) for bound in _bounds(review.log))
        self._span = clock.window(start, end + 1)
        self._borders = bins.edges(start, end + 1, min(DUTY_BINS, end + 1 - start))

    def starts_per_hour(self, motion: str) -> DutyView:
        """Starts in any sliding hour of one motion, and in each clock hour."""
        counts, borders = self.review.motions[motion], self._borders
        begun = self._runs.filter((pl.col("motion") == motion) & pl.col("start_seen"))
        sliding = starts.sliding_starts(begun["start"], clock=begun["clock"])
        value = np.zeros(len(borders) - 1)
        for _, part in sliding.group_by("clock", maintain_order=True):
            time = whole(part["time"])
            hour = round(HOUR_S * 1e6)
            here = np.searchsorted(time, borders[:-1], "right") - np.searchsorted(time, borders[:-1] - hour, "right")
            most = bins.largest(time, part["count"].to_numpy().astype(np.float64), borders)
            value = np.maximum(value, np.maximum(here, most))
        limit = float(counts.limits.starts_per_hour) if counts.limits else None
        above = starts.excess_windows(sliding, limit).height if limit is not None else 0
        hours = counts.clock_hours.select(pl.Series("at", self.clock.axis(whole(counts.clock_hours["hour"]))), "count")
        return self._duty(counts, value, limit, counts.starts_per_hour_max, above, hours, HOUR_S)

    def cyclic_duration(self, motion: str) -> DutyView:
        """Share of running time in any sliding window of one motion: ten minutes, or the window of its limit."""
        counts, borders = self.review.motions[motion], self._borders
        window_s = counts.limits.window_s if counts.limits else TEN_MINUTES_S
        own = self._runs.filter(pl.col("motion") == motion)
        intervals = cyclic.running_intervals(own, own["clock"])
        curve = cyclic.running_share(intervals, window_s, intervals["clock"])
        value = np.zeros(len(borders) - 1)
        for _, part in curve.group_by("clock", maintain_order=True):
            time, share = whole(part["time"]), part["share"].to_numpy()
            here = np.interp(borders[:-1], time, share, left=0, right=0)
            value = np.maximum(value, np.maximum(here, bins.largest(time, share, borders)))
        limit = counts.limits.cyclic_duration if counts.limits else None
        above = cyclic.excess_windows(curve, limit, window_s).height if limit is not None else 0
        peak = counts.limit_window_max if counts.limits else counts.cyclic_duration_max
        hours = pl.DataFrame(schema={"at": pl.Float64, "count": pl.UInt32})
        return self._duty(counts, value, limit, peak, above, hours, window_s)

    def _duty(
        self,
        counts: MotionCounts,
        value: bins.Reals,
        limit: float | None,
        peak: Peak | None,
        above: int,
        hours: pl.DataFrame,
        window_s: float,
    ) -> DutyView:
        holes = self.review.log.holes
        known = counts.limits
        key = "group" if counts.motion == "hoist" else f"{counts.motion}_group"
        return DutyView(
            motion=counts.motion,
            at=self.clock.axis(self._borders[:-1]),
            value=value,
            limit=limit,
            source=f"{known.source}; {known.confidence}" if known else f"the machine file gives no {key}",
            peak=peak.value if peak else None,
            peak_at=self.clock.short(peak.at) if peak else "",
            above=above,
            hours=hours,
            holes=tuple(zip(self.clock.axis(whole(holes["start"])), self.clock.axis(whole(holes["end"])), strict=True)),
            window_s=window_s,
            clock=self.clock.name,
            span=self._span,
        )


def _life(review: Review) -> list[LifeFacts]:
    """The life of each motion, in the words of the report."""
    clock = Clock.of(review.log)
    return [
        LifeFacts(motion, life.work(own), tuple(_used(own, clock)), tuple(life.facts(own, clock)))
        for motion, own in review.life.items()
    ]


def _used(own: MotionLife, clock: Clock) -> Iterator[Used]:
    if own.period:
        year = _a_year_on(own.period.share, own.period.duration_h, own.period_rate)
        yield Used("Safe working period", own.period.share, life.date_of(own.period_end, clock), year)
    for part in own.parts:
        if part.share is not None and part.rated:
            year = _a_year_on(part.share, part.rated, part.until.rate if part.until else None)
            yield Used(part.part.capitalize(), part.share, life.date_of(part.until, clock), year)


def _a_year_on(share: float, rated: float, rate: Rate | None) -> tuple[float, float] | None:
    """The share that will be used a year later, by the interval of the rate."""
    if rate is None or rate.low is None or rate.high is None:
        return None
    return share + YEAR_DAYS * rate.low / rated, share + YEAR_DAYS * rate.high / rated


def _severities(review: Review) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {name: [] for name in schema.SEVERITIES}
    for row in review.findings.select("severity", "pattern", "motion", "count").iter_rows(named=True):
        where = f"{row['motion']}, " if row["motion"] else ""
        title = patterns.catalogue()[row["pattern"]].title
        found[row["severity"]].append(f"{title} ({where}{row['count']:,} ×)")
    return found


def _motions(review: Review) -> list[MotionFacts]:
    """Each motion at a glance."""
    clock = Clock.of(review.log)
    return [
        MotionFacts(
            motion=motion,
            starts=counts.starts,
            runs=counts.runs,
            running=words.length(counts.running_s),
            fast=words.length(counts.fast_s) if counts.fast_s is not None else None,
            jogs=counts.jogs,
            reversals=counts.reversals,
            peak=counts.starts_per_hour_max.value if counts.starts_per_hour_max else None,
            limit=counts.limits.starts_per_hour if counts.limits else None,
            endings=dict(counts.endings),
            windings=tuple(windings(counts, clock)),
        )
        for motion, counts in review.motions.items()
    ]


def _log(review: Review, clock: WallClock) -> LogFacts:
    """The log and the machine, in texts."""
    log, plate = review.log, review.machine.machine
    first, last = _bounds(log)
    rated = f", rated load {words.number(plate.rated_load_kg)} kg" if plate.rated_load_kg else ""
    rejected = log.rejected.group_by("reason", maintain_order=True).agg(pl.len(), pl.col("row").min().alias("first"))
    return LogFacts(
        machine=plate.id,
        group=(plate.group or "not given") + rated,
        span=f"{clock.short(first)} to {clock.short(last)}",
        zone=clock.name,
        observed=words.length(log.observed_s),
        step=words.length(log.step_s),
        uncertainty=words.length(log.uncertainty_s),
        gaps=_gaps(log.holes, log.clock_steps),
        set_aside="; ".join(
            f"{count:,} × {reason} (first in line {first:,})" for reason, count, first in rejected.iter_rows()
        ),
        proves=_proves(review),
        files=tuple(f"{one.name}: {one.rows:,} rows, {one.events:,} events" for one in log.files),
        notes=log.notes,
    )


def _proves(review: Review) -> tuple[str, ...]:
    """What the log cannot prove, or only after a correction: one sentence each."""
    log, quality = review.log, review.signal_quality
    rhythm = "no rhythm of its own: silence may be rest" if log.rhythm_s is None else words.length(log.rhythm_s)
    said = [f"Log step {words.length(log.step_s)}, found from the gaps between records; rhythm: {rhythm}."]
    for why, count in log.holes.group_by("why").len().sort("why").iter_rows():
        said.append(f"{words.counted(count, 'hole')} by {why}.")
    said += [
        f"Clock {seconds:+,.0f} s: {why}."
        for seconds, why in log.clock_steps.head(5).select("seconds", "why").iter_rows()
    ]
    for count, what in (
        (log.duplicates, "that repeat another entirely"),
        (log.overlap, "in two files, taken once"),
        (log.reordered, "moved into the order of time"),
        (int(quality["repeated"].sum()), "that repeat the state before"),
        (int(quality["missing_offs"].sum()), "with on after on, without an off between"),
        (int(quality["unknown_records"].sum()), "without a usable value"),
    ):
        said += [f"{words.counted(count, 'row')} {what}."] if count else []
    said += [f"{name} stands still while the machine works on." for name in review.frozen]
    dark = quality.filter(pl.col("unknown_share") >= 0.001).sort("unknown_share", descending=True)
    said += [
        f"{name}: state unknown in {100 * share:.3g} % of the observed time."
        for name, share in dark.head(5).select("signal", "unknown_share").iter_rows()
    ]
    return tuple(said)


def _gaps(holes: pl.DataFrame, clock_steps: pl.DataFrame) -> str:
    parts = []
    if holes.height:
        lost = float((holes["end"] - holes["start"]).dt.total_microseconds().sum()) / 1e6
        parts.append(f"{words.counted(holes.height, 'hole')}, {words.length(lost)} in all")
    if clock_steps.height:
        parts.append(words.counted(clock_steps.height, "clock step"))
    return "; ".join(parts)
