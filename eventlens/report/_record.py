"""Section of the report: the record itself, and what it can prove."""

from __future__ import annotations

import polars as pl

from eventlens.duty.shifts import ShiftPlan
from eventlens.reading.log import Log
from eventlens.report.lines import Page
from eventlens.report.words import Clock, counted, lines_of, listed, span
from eventlens.result import Review

FILES_SHOWN = 6
NAMES_SHOWN = 12
STEPS_SHOWN = 3
SIGNALS_SHOWN = 4
LEAST_UNKNOWN = 0.001
"""Share of the observed time below which an unknown state is not worth a line."""


def write(page: Page, review: Review, clock: Clock) -> None:
    """What was read, over which time, and how finely."""
    log = review.log
    page.heading("Record")
    _files(page, log)
    page.pair("span", f"{clock(log.start)} to {clock(log.end)}, times in {log.timezone}")
    # by a clock that stepped, the whole span is no length of time
    whole = "" if log.clock_steps.height else f" of {span((log.end - log.start).total_seconds())}"
    page.pair("observed", f"{span(log.observed_s)}{whole}; rates are per hour of observed time")
    page.pair("holes", _holes(log, clock))
    if log.clock_steps.height:
        page.pair("clock steps", _clock_steps(log, clock))
    page.pair("log step", f"{span(log.step_s)}: a time between two records is known to {span(log.uncertainty_s)}")
    page.pair("names", _names(log))
    page.pair("set aside", _set_aside(log))
    if log.duplicates or log.reordered or log.overlap:
        overlap = f", {log.overlap} in two files and taken once" if log.overlap else ""
        page.pair(
            "rows", f"{log.duplicates} repeat another entirely, {log.reordered} moved into the order of time{overlap}"
        )
    page.pair("shifts", _shifts(review.shifts))
    for number, line in enumerate(_signals(review)):
        page.pair("" if number else "signals", line)
    for number, note in enumerate(log.notes):
        page.pair("" if number else "decided", note)


def _files(page: Page, log: Log) -> None:
    for number, file in enumerate(log.files[:FILES_SHOWN]):
        parts = f"{file.taken} understood, {file.rejected} set aside, {file.blank} blank"
        parts += f", {file.repeated} also in another file" if file.repeated else ""
        page.pair("" if number else "files", f"{file.name}: {counted(file.rows, 'row')} ({parts})")
    rest = log.files[FILES_SHOWN:]
    if rest:
        page.pair("", f"and {counted(len(rest), 'file')} more with {sum(file.rows for file in rest)} rows")
    page.pair("read as", log.layout + (f", with profile {log.profile}" if log.profile else ", without a profile"))


def _shifts(plan: ShiftPlan) -> str:
    days = f" on {', '.join(plan.days)}" if plan.days else ""
    return f"{', '.join(plan.times)}{days} ({plan.how})" if plan.times else plan.how


def _holes(log: Log, clock: Clock) -> str:
    if log.holes.height:
        lengths = (log.holes["end"] - log.holes["start"]).dt.total_microseconds() / 1e6
        longest = log.holes.row(int(lengths.arg_max() or 0), named=True)
        at = f"{clock(longest['start'])}, {lines_of(longest['rows'], log.files)}"
        why = dict(log.holes["why"].value_counts().sort("why").iter_rows())
        reasons = ", ".join(f"{count} by {reason}" for reason, count in why.items()) if set(why) != {"silence"} else ""
        reasons = f" ({reasons})" if reasons else ""
        return f"{log.holes.height}{reasons}, {span(float(lengths.sum()))} in all; the longest from {at}"
    if log.rhythm_s is None:
        return "cannot be told: the log has no rhythm of its own, so silence may be rest or a hole"
    return f"none (a record is due every {span(log.rhythm_s)})"


def _signals(review: Review) -> list[str]:
    """What is missing of signals: offs between two ons, values, changes, and time in which their state is known."""
    quality = review.signal_quality
    lines = []
    for column, what in (
        ("missing_offs", "on after on, without an off between"),
        ("unknown_records", "records without a usable value"),
    ):
        some = quality.filter(pl.col(column) > 0).sort(column, descending=True, maintain_order=True)
        if some.height:
            shown = (f"{signal} {count}" for signal, count in some.select("signal", column).iter_rows())
            lines.append(f"{what}: {listed(shown, SIGNALS_SHOWN)}")
    if frozen := review.frozen:
        lines.append(f"stand still while the machine works on: {listed(frozen, SIGNALS_SHOWN)}")
    dark = quality.filter(pl.col("unknown_share") >= LEAST_UNKNOWN).sort("unknown_share", descending=True)
    if dark.height:
        shown = (
            f"{signal} {100 * share:.3g} %" for signal, share in dark.select("signal", "unknown_share").iter_rows()
        )
        lines.append(f"state unknown in the observed time: {listed(shown, SIGNALS_SHOWN)}")
    return lines


def _clock_steps(log: Log, clock: Clock) -> str:
    shown = [
        f"{seconds:+g} s at {clock(at)} ({lines_of(rows, log.files)}; {why})"
        for at, seconds, rows, why in log.clock_steps.select("at", "seconds", "rows", "why").iter_rows()
    ]
    return listed(shown, STEPS_SHOWN)


def _names(log: Log) -> str:
    unmapped = log.names.filter(pl.col("signal").is_null())["name"].to_list()
    text = f"{log.names.height - len(unmapped)} of {log.names.height} stand for a known signal"
    if proposed := int((log.names["mapped_by"] == "proposed").sum()):
        text += f", {proposed} of them only proposed"
    return text + (f"; not mapped: {listed(unmapped, NAMES_SHOWN)}" if unmapped else "")


def _set_aside(log: Log) -> str:
    reasons = log.rejected.group_by("reason").agg(count=pl.len(), first=pl.col("row").min()).sort("first", "reason")
    parts = [
        f"{reason} ({count}, first {lines_of([first], log.files)})"
        for reason, count, first in reasons.select("reason", "count", "first").iter_rows()
    ]
    return f"{counted(log.rejected.height, 'row')}: {'; '.join(parts)}" if parts else "no rows"
