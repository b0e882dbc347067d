"""Section of the report: the record itself, and what it can prove."""

from __future__ import annotations

import polars as pl

from eventlens.reading.log import Log
from eventlens.report.lines import Page
from eventlens.report.words import Clock, counted, lines_of, listed, span

FILES_SHOWN = 6
NAMES_SHOWN = 12
STEPS_SHOWN = 3


def write(page: Page, log: Log, clock: Clock) -> None:
    """What was read, over which time, and how finely."""
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
    if log.duplicates or log.reordered:
        page.pair("rows", f"{log.duplicates} repeat another entirely, {log.reordered} moved into the order of time")
    for number, note in enumerate(log.notes):
        page.pair("" if number else "decided", note)


def _files(page: Page, log: Log) -> None:
    for number, file in enumerate(log.files[:FILES_SHOWN]):
        parts = f"{file.taken} understood, {file.rejected} set aside, {file.blank} blank"
        page.pair("" if number else "files", f"{file.name}: {counted(file.rows, 'row')} ({parts})")
    rest = log.files[FILES_SHOWN:]
    if rest:
        page.pair("", f"and {counted(len(rest), 'file')} more with {sum(file.rows for file in rest)} rows")
    page.pair("read as", log.layout + (f", with profile {log.profile}" if log.profile else ", without a profile"))


def _holes(log: Log, clock: Clock) -> str:
    if log.holes.height:
        lengths = (log.holes["end"] - log.holes["start"]).dt.total_microseconds() / 1e6
        longest = log.holes.row(int(lengths.arg_max() or 0), named=True)
        at = f"{clock(longest['start'])}, {lines_of(longest['rows'], log.files)}"
        return f"{log.holes.height}, {span(float(lengths.sum()))} in all; the longest from {at}"
    if log.rhythm_s is None:
        return "cannot be told: the log has no rhythm of its own, so silence may be rest or a hole"
    return f"none (a record is due every {span(log.rhythm_s)})"


def _clock_steps(log: Log, clock: Clock) -> str:
    shown = [
        f"{seconds:+g} s at {clock(at)} ({lines_of(rows, log.files)})"
        for at, seconds, rows in log.clock_steps.select("at", "seconds", "rows").iter_rows()
    ]
    return listed(shown, STEPS_SHOWN)


def _names(log: Log) -> str:
    unmapped = log.names.filter(pl.col("signal").is_null())["name"].to_list()
    text = f"{log.names.height - len(unmapped)} of {log.names.height} stand for a known signal"
    return text + (f"; not mapped: {listed(unmapped, NAMES_SHOWN)}" if unmapped else "")


def _set_aside(log: Log) -> str:
    reasons = log.rejected.group_by("reason").agg(count=pl.len(), first=pl.col("row").min()).sort("first", "reason")
    parts = [
        f"{reason} ({count}, first {lines_of([first], log.files)})"
        for reason, count, first in reasons.select("reason", "count", "first").iter_rows()
    ]
    return f"{counted(log.rejected.height, 'row')}: {'; '.join(parts)}" if parts else "no rows"
