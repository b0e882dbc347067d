"""The record itself: clock, lost records, losses exactly one scan long."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.causes.commands import single_pulses
from eventlens.causes.complaints import LOSSES, Complaint
from eventlens.causes.signs import ABSENT, PRESENT, Sign, lines, lines_behind, share_factor
from eventlens.causes.subject import BRIEF_S, Subject, brief_spells
from eventlens.motion.near import seconds

ONE_SCAN: Final = 1.5
"""A loss of up to so many log steps is one scan long (judgement)."""
MANY: Final = 3
"""Pulses on so many inputs, of more than one motion, have no part of one function as their cause (judgement)."""
COARSE_S: Final = 0.2
"""With a coarser step everything brief is one step long, and it says nothing [s]."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of itself; all but the length of losses is the same for every complaint."""
    yield from complaint.subject.once("signs of the record", lambda own: (*_kept(own), *_pulses(own)))
    if complaint.question.key in LOSSES and complaint.motion:
        yield from _scan(complaint)


def _kept(subject: Subject) -> Iterator[Sign]:
    """Its clock, and what it lacks."""
    log = subject.log
    steps = log.clock_steps
    rows = lines_behind(steps)
    yield Sign("clock_jumps", 100.0 if steps.height else ABSENT, f"the clock steps {steps.height} x", rows)
    lost = log.rejected.height
    gaps = log.holes.filter(pl.col("why") != "restart").height
    text = f"{gaps} holes, {lost} rows set aside"
    yield Sign("log_gaps", 8.0 if gaps + lost else ABSENT, text, lines(log.rejected["row"]))


def _pulses(subject: Subject) -> Iterator[Sign]:
    """Brief pulses on commands and limits of several motions."""
    names = [name for name in sorted(subject.carried) if name.endswith((".command", ".limit"))]
    if len(names) < 2 or subject.log.step_s >= BRIEF_S / 2:
        return
    brief = brief_spells(subject, names)
    brief = brief.filter(pl.len().over("start") == 1)  # each by itself: what goes together is a common drop-out
    which = brief["signal"].cast(pl.String).unique()
    many = len(which) >= MANY and _motions(which) > 1
    if _motions(pl.Series(names)) == 1:  # then two inputs must do, with pulses that come out of nothing
        brief = single_pulses(subject)
        which = brief["signal"].cast(pl.String).unique()
        many = len(which) > 1 and brief.height >= MANY
    text = f"{brief.height} pulses of less than {BRIEF_S:g} s on {len(which)} of {len(names)} commands and limits"
    yield Sign("pulses_on_many", PRESENT if many else ABSENT, text, lines(brief["start_row"]))


def _motions(names: pl.Series) -> int:
    return names.str.split(".").list.first().n_unique()


def _scan(complaint: Complaint) -> Iterator[Sign]:
    """Losses of the confirmation that are one scan long."""
    subject, name = complaint.subject, f"{complaint.motion}.brake.released"
    step = subject.log.step_s
    if name not in subject.carried or step > COARSE_S or step <= 0:
        return
    within = subject.off_in_runs(name, complaint.motion).filter("end_seen")
    brief = within.filter(seconds("end", "start") <= ONE_SCAN * step)
    n = max(within.height, complaint.moments.height)
    if n:
        text = f"{brief.height} of {n} losses one log step ({step:g} s) long"
        yield Sign("one_scan_long", share_factor(brief.height, n, 0.1, 0.9), text, lines(brief["start_row"]))
