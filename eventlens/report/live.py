"""What is told while a machine is followed, a line for each message."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from eventlens import patterns
from eventlens.cautions import GENERAL
from eventlens.errors import printable
from eventlens.live.told import FOUND, Message
from eventlens.reading.log import SourceFile
from eventlens.report.lines import Line, Page
from eventlens.report.words import figure, ranges_of, span

_RECORD = (SourceFile("", "", 0, 0, 0, 0, 0, 1, 1),)
"""Lines are those of the record: of one file its own, of several they run on."""


def sends_to_the_machine(message: Message) -> bool:
    """Whether somebody may go to the machine because of it: it is no note."""
    return patterns.catalogue()[message.occurrence["pattern"]].severity != "note"


def cautions() -> list[Line]:
    """What holds before anybody touches the machine."""
    page = Page(110)
    for caution in GENERAL:
        page.say(caution, "! ", "  ")
    return page.lines


def line_of(message: Message, timezone: str) -> Line:
    """When, on which motion, what, how certain, which lines prove it, and how long it took to be told."""
    one, pattern = message.occurrence, patterns.catalogue()[message.occurrence["pattern"]]
    when = one["start"].astimezone(ZoneInfo(timezone)).isoformat(" ", "milliseconds")[:23]
    sure = one["certainty"] == "certain"
    what = [f"{when}  {one['motion'] or 'machine'}: {pattern.title}", "certain" if sure else "only possible"]
    if one["signal"]:
        what.append(str(one["signal"]))
    if one["measured"] is not None:
        limit = "" if one["limit"] is None else f" (limit {figure(one['limit'])})"
        what.append(f"{figure(one['measured'])} {pattern.unit}{limit}")
    if rows := list(one["rows"] or ()):
        shown, more = ranges_of(rows, _RECORD)
        word = "line " if len(rows) == 1 else "lines "
        what.append(word + ", ".join(shown) + (f" and {more} more" if more else ""))
    if message.going_on:
        what.append("still going on")
    if message.told != FOUND:
        return Line(printable(f"{message.told}, {message.why}: {'; '.join(what)}"), "note")
    needed, took = span(max(message.age_s, 0.0)), span(message.program_s)
    what.append(f"told {needed} of the log after its end, {took} after that came")
    severity = pattern.severity if sure or pattern.severity == "note" else "watch"
    return Line(printable("; ".join(what)), severity)
