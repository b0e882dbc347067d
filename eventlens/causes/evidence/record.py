"""The record itself: clock, lost records, losses exactly one scan long."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import polars as pl

from eventlens.causes.complaints import Complaint
from eventlens.causes.signs import ABSENT, Sign, lines_behind, share_factor, some
from eventlens.motion.near import seconds

ONE_SCAN: Final = 1.5
"""A loss of up to so many log steps is one scan long (judgement)."""
COARSE_S: Final = 0.2
"""With a coarser step everything brief is one step long, and it says nothing [s]."""


def signs(complaint: Complaint) -> Iterator[Sign]:
    """What the log says of itself."""
    log = complaint.subject.log
    steps = log.clock_steps
    rows = lines_behind(steps)
    yield Sign("clock_jumps", 100.0 if steps.height else ABSENT, f"the clock steps {steps.height} x", rows)
    lost = log.rejected.height
    gaps = log.holes.filter(pl.col("why") != "restart").height
    text = f"{gaps} holes, {lost} rows set aside"
    yield Sign("log_gaps", 8.0 if gaps + lost else ABSENT, text, some(log.rejected["row"]))
    if complaint.question.key == "losses" and complaint.motion:
        yield from _scan(complaint)


def _scan(complaint: Complaint) -> Iterator[Sign]:
    """Losses of the confirmation that are one scan long."""
    subject, name = complaint.subject, f"{complaint.motion}.brake.released"
    step = subject.log.step_s
    if name not in subject.carried or step > COARSE_S or step <= 0:
        return
    runs = subject.runs_of(complaint.motion).select(run_start="start", run_end="end")
    gone = subject.off(name).filter(pl.col("start_seen") & pl.col("end_seen")).sort("start")
    within = gone.join_asof(runs, left_on="start", right_on="run_start", strategy="backward")
    within = within.filter((pl.col("start") < pl.col("run_end")) & (pl.col("end") <= pl.col("run_end")))
    brief = within.filter(seconds("end", "start") <= ONE_SCAN * step)
    n = max(within.height, complaint.moments.height)
    if n:
        text = f"{brief.height} of {n} losses one log step ({step:g} s) long"
        yield Sign("one_scan_long", share_factor(brief.height, n, 0.1, 0.9), text, some(brief["start_row"]))
