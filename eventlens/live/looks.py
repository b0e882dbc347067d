"""Looks at a record that grows: reviews of all of it, and of its last part. No pattern is written a second time.

A look at the whole record says what `eventlens review` says. It becomes slow as the record grows, so most looks go to
the last part (`tail`): what they say of an occurrence holds where the part reaches back before it as far as its pattern
looks. Patterns that weigh the whole log (`Pattern.settles_s` infinite) are left to looks at the whole.
"""

from __future__ import annotations

import math
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Final

import polars as pl

from eventlens import schema
from eventlens.duty.shifts import shifts_of
from eventlens.live import tail
from eventlens.machine import Machine
from eventlens.motion import RecordAxis
from eventlens.patterns import Context
from eventlens.patterns._frozen import going_on, still_frozen
from eventlens.reading import Log, Profile, read
from eventlens.result import Review
from eventlens.wiring import context_of, occurrences_in

MANY_LOST: Final = 1 << 20
"""So many lost records make a log one that loses pairs too, however long it is."""


@dataclass(frozen=True)
class Seen:
    """What a look has found."""

    found: pl.DataFrame
    """schema.OCCURRENCES by the clock; age_s: how far the record goes on after its end [s]; before_s: how much of it
    was looked at before its start [s], infinite in a look at the whole."""
    end: datetime
    """Last record, by the clock."""
    whole: bool
    row: int = 0
    """First line of the record that was looked at."""
    known: datetime | None = None
    """How far looks at the whole record have come [by the clock]; None: this is one."""
    known_row: int = 0
    """The same as a line."""
    begin: datetime | None = None
    """First instant that was looked at; None: the whole record."""
    stepped: bool = False
    """The clock was set in what was looked at: instants do not tell before from after."""


class Looks:
    """The looks at one record. `paths` of the record may grow, files may come; what was looked at stays."""

    def __init__(self, profile: Profile, machine: Machine, folder: Path) -> None:
        """folder: for copies of the last part."""
        self._profile, self._machine, self._folder = profile, machine, folder
        self._facts: tail.Facts | None = None
        self.cut: tail.Cut | None = None
        """Where the last part begins; None where only the whole can be looked at."""
        self._known: tuple[datetime | None, int] = (None, 0)
        self._pieces = 0
        self._firsts: list[tuple[int, int]] = []

    @property
    def first_lines(self) -> list[int]:
        """The physical line of the first data line of each file that was looked at."""
        return [line for _, line in self._firsts]

    def at_part(self, paths: Sequence[Path]) -> Seen | None:
        """A look at the last part; None where only the whole can be looked at. ReadingError as from `read`."""
        if self.cut is None or self._facts is None or len(paths) != self._pieces:
            return None
        log = self._part(paths, self.cut, self._facts)
        if log is None:
            return None
        context, axis = self._context(log, self._facts)
        seen = _seen(occurrences_in(context), log, axis, self.cut)
        seen = replace(seen, known=self._known[0], known_row=self._known[1])
        if tail.is_long(log):
            self.cut = tail.cut_in(log, paths, self._firsts) or self.cut
        return seen

    def at_whole(self, paths: Sequence[Path]) -> Seen:
        """A look at the whole record."""
        log = read([str(path) for path in paths], self._profile)
        axis = RecordAxis.of(log)
        context = context_of(log, self._machine, axis, lambda stage: None)
        found = occurrences_in(context)
        still = still_frozen(context) if axis.same else {}
        self._facts = tail.Facts(log.step_s, log.rhythm_s, log.names, context.lossy, context.shifts.plan, still)
        self._known = (log.end, int(log.events["row"].max() or 0))  # type: ignore[arg-type]
        self._pieces = len(paths)
        self._firsts = [(file.first_row, file.first_line) for file in log.files]
        self.cut = self._tried(log, paths) if tail.is_long(log) and len(log.files) == len(paths) else None
        return _seen(found, log, axis)

    def _tried(self, log: Log, paths: Sequence[Path]) -> tail.Cut | None:
        """The cut, if the part reads as the whole record does."""
        cut = tail.cut_in(log, paths, self._firsts)
        if cut is None or self._facts is None:
            return None
        part = self._part(paths, cut, self._facts)
        return cut if part is not None and tail.agrees(part, log, cut) else None

    def _part(self, paths: Sequence[Path], cut: tail.Cut, facts: tail.Facts) -> Log | None:
        """The last part as a log."""
        folder = self._folder / "look"
        shutil.rmtree(folder, ignore_errors=True)
        laid = tail.lay_out(cut, paths, folder)
        return tail.grafted(read([str(path) for path in laid], self._profile), cut, facts)

    def _context(self, log: Log, facts: tail.Facts) -> tuple[Context, RecordAxis]:
        """What patterns look at, with what only the whole record knows."""
        axis = RecordAxis.of(log)
        context = context_of(log, self._machine, axis, lambda stage: None)
        starts = axis.to_clock(context.runs.select("start", "segment"), "start")["start"]
        shifts = shifts_of(context.runs, starts, self._machine.work, log.timezone, facts.plan)
        states = replace(context.states, lost=MANY_LOST if facts.lossy else 0)
        still = going_on(facts.still, context) if axis.same else {}
        return replace(context, shifts=shifts, states=states, still=still), axis


def of_review(review: Review) -> Seen:
    """What a review of the whole record has found, as a look at its end."""
    last = pl.lit(review.log.end).cast(schema.TIME)
    age = ((last - pl.col("end")).dt.total_microseconds() / 1e6).clip(0.0)
    found = review.occurrences.with_columns(age_s=age, before_s=pl.lit(math.inf))
    return Seen(found, review.log.end, whole=True)


def _seen(found: pl.DataFrame, log: Log, axis: RecordAxis, cut: tail.Cut | None = None) -> Seen:
    """Occurrences on the record's axis as they are by the clock, with their age and what lies before them.

    cut: where the part begins that was looked at; None: it was the whole record.
    """
    segments = axis.to_record(log.segments, "start", "end")
    first, last = (pl.lit(at).cast(schema.TIME) for at in (segments["start"].min(), segments["end"].max()))
    aged = found.with_columns(
        age_s=(last - pl.col("end")).dt.total_microseconds() / 1e6,
        before_s=(pl.col("start") - first).dt.total_microseconds() / 1e6 if cut else pl.lit(math.inf),
    )
    by_clock = axis.to_clock(aged, "start", "end")
    row, begin = (cut.row, cut.begin) if cut else (0, None)
    return Seen(by_clock, log.end, whole=cut is None, row=row, begin=begin, stepped=not axis.same)
