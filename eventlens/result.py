"""What a review is: every table and count of one machine and one log, and its JSON form."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from pathlib import Path

import polars as pl

from eventlens import contract, patterns
from eventlens.causes.diagnosis import Diagnosis, diagnose
from eventlens.causes.facts import load_knowledge
from eventlens.causes.models import Knowledge
from eventlens.causes.outcomes import bind, checks_in
from eventlens.causes.ranking import Outcomes
from eventlens.causes.subject import Subject
from eventlens.duty.counts import MotionCounts
from eventlens.duty.kinds import WorkKinds, kinds_of_work
from eventlens.duty.shifts import ShiftPlan
from eventlens.life.assess import assess
from eventlens.life.outcome import MotionLife
from eventlens.limits import configure
from eventlens.machine import Machine
from eventlens.motion.kinds import JogParameters
from eventlens.motion.known import signal_quality
from eventlens.reading.log import Log
from eventlens.spill import is_long
from eventlens.threads import in_threads


@dataclass(frozen=True)
class Statement:
    """What a person wrote down about the machine, and what it does in a review."""

    at: datetime
    kind: str
    """As in archive.entries.KINDS: repair, exchanged, earlier_hours, shifts, check or note."""
    text: str
    counts: str
    """How it counts, in words; empty: it is shown."""


@dataclass(frozen=True)
class Review:
    """The review of one machine over one log. All times are instants in UTC as the controller's clock showed them."""

    log: Log
    machine: Machine
    states: pl.DataFrame
    """schema.STATES: known states of the signals that are on or off."""
    runs: pl.DataFrame
    """schema.RUNS."""
    shifts: ShiftPlan
    """When people work with it, and how that is known."""
    motions: Mapping[str, MotionCounts]
    """Counts of each motion that the log carries."""
    findings: pl.DataFrame
    """schema.FINDINGS, the most serious first."""
    occurrences: pl.DataFrame
    """schema.OCCURRENCES: the evidence, complete."""
    not_assessed: pl.DataFrame
    """schema.NOT_ASSESSED: what this log cannot show, and what would make it."""
    cautions: tuple[str, ...]
    """What holds before anybody touches the machine."""
    checked: Outcomes = field(default_factory=dict)
    """Checks that were made on the machine, and what came of them."""
    knowledge: Knowledge | None = None
    """Causes, evidence and checks; None: those of the project."""
    history: tuple[Statement, ...] = ()
    """What people wrote down about the period, by time; of a log alone nothing is known."""
    hours_stated_at: datetime | None = None
    """When the hours of full load before the log were written down; None: the machine file says them."""

    @cached_property
    def causes(self) -> Diagnosis:
        """What most likely causes the findings and which check comes next; worked out when it is first asked for."""
        severities = {name: pattern.severity for name, pattern in patterns.catalogue().items()}
        return diagnose(self.subject, self.knowledge or load_knowledge(), severities, self.checked)

    @property
    def subject(self) -> Subject:
        """What causes are read from."""
        return Subject(
            log=self.log,
            machine=self.machine,
            runs=self.runs,
            states=self.states,
            occurrences=self.occurrences,
            not_assessed=self.not_assessed,
            shifts=self.shifts.times,
            work_done=tuple(one.at for one in self.history if one.kind in ("repair", "exchanged")),
        )

    @cached_property
    def life(self) -> dict[str, MotionLife]:
        """What the use means for the life of each motion's mechanism; worked out when it is first asked for."""
        jogs = configure(JogParameters, self.machine.limits)
        return assess(self.log, self.machine, self.runs, self.motions, jogs.jog_longest_s)

    @cached_property
    def work(self) -> WorkKinds:
        """The usual kinds of runs and work cycles; worked out when it is first asked for."""
        return kinds_of_work(self.runs, self.machine.machine.rated_load_kg)

    def complete(self) -> Review:
        """The review itself, with all that is only worked out when it is asked for: side by side, or for the memory in
        turn where the log is long."""
        rows = 0 if is_long(self.log.events.height) else self.states.height
        in_threads(lambda part: getattr(self, part), ("causes", "work", "life", "signal_quality"), rows)
        return self

    def with_checks(self, made: Iterable[str]) -> Review:
        """The same review with the outcomes of checks, in the order in which they were made.

        made: each like 'relay_seat=negative', or 'no_load_run:brake_coil=positive' with the cause for which it was
        made; without it the check counts for the likeliest cause that it can confirm. EventlensError for a check,
        cause or outcome that is not known.
        """
        found, outcomes = self, list(made)
        if not outcomes:
            return found  # what is known of causes is read when these are asked for, while other work goes on
        for checked in checks_in(outcomes, self.knowledge or load_knowledge()):
            found = replace(found, checked=bind(found.causes, checked))
        return found

    @cached_property
    def signal_quality(self) -> pl.DataFrame:
        """How much the log says about each signal (motion.known.signal_quality)."""
        return signal_quality(self.log, self.states)

    @property
    def frozen(self) -> list[str]:
        """The signals that stood still while the machine worked on (pattern frozen_signal)."""
        found = self.findings.filter(pl.col("pattern") == "frozen_signal")["signal"]
        return found.drop_nulls().cast(pl.String).to_list()

    def to_report(
        self, path: str | Path, *, paper: str = "a4", language: str = "en", sections: Iterable[str] | None = None
    ) -> None:
        """Writes the report that hands the review over: .html or .pdf by the end of `path`; paper: 'a4' or 'letter';
        language: 'en' or 'de'; sections: which of those that may be left out it is to have, None: all (see
        report.document). The same log gives the same bytes. EventlensError for what is not known.
        """
        from eventlens.report import document  # leads up, when it is called: what a review is knows no report

        document.write(self, path, paper=paper, language=language, sections=sections)

    def to_json(self, *, indent: int | None = 2) -> str:
        """The review as JSON (contract 1); the same log gives the same text, byte for byte."""
        return contract.to_json(self, indent=indent)
