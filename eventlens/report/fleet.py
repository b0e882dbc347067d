"""A fleet as plain text for a terminal: machine by machine what was reviewed and what was found; then the errors."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from eventlens import patterns
from eventlens.errors import printable
from eventlens.fleet.result import Fleet
from eventlens.report.lines import Line, Page
from eventlens.report.words import SEVERITY, counted
from eventlens.schema import SEVERITIES

HEADS: Final = ("machine", "periods", "made", "kept", "failed", "out", "repair", "watch", "note")
LEGEND: Final = (
    "periods: with log or silent; made: reviewed now; kept: there already; failed: no review, see errors. Out (of "
    "service), repair, watch, note: findings by what they ask for, each pattern of a motion or signal once"
)
NAME: Final = 24
"""Columns of the longest name of a machine that is shown whole."""
WHOLE: Final = 40
"""Errors that are written out; the others are counted, and stand in the JSON."""


def render(found: Fleet, *, width: int = 80) -> str:
    """The fleet as plain text; only the lines of the table may be longer than `width` columns."""
    return _page(found, width).text()


def styled(found: Fleet, *, width: int = 80) -> list[Line]:
    """The same lines, each with its style ('', 'heading' or a severity)."""
    return _page(found, width).lines


def _page(found: Fleet, width: int) -> Page:
    page = Page(width)
    made, kept = (int(found.machines[name].sum()) for name in ("made", "kept"))
    page.say(f"{counted(found.machines.height, 'machine')}: by {found.period}", style="heading")
    page.say(f"{counted(made, 'review')} made, {kept} there already, {counted(found.errors.height, 'error')}", "  ")
    page.gap()
    _machines(page, found)
    page.gap()
    page.say(LEGEND, "  ")
    _errors(page, found)
    page.heading("Before anybody touches a machine")
    for caution in found.cautions:
        page.say(caution, "- ")
    return page


def _machines(page: Page, found: Fleet) -> None:
    """A line of the table for each machine, and below it its most serious finding."""
    worst = {row["machine"]: row for row in found.most_serious().iter_rows(named=True)}
    names = [printable(name) for name in found.machines["machine"]]
    first = min(NAME, max([len(HEADS[0]), *map(len, names)]))
    page.lines.append(Line(_row(HEADS, first), "heading"))
    for row in found.machines.iter_rows(named=True):
        counts = [row[name] for name in (*HEADS[1:5], *SEVERITIES)]
        one = worst.get(row["machine"])
        page.lines.append(Line(_row([printable(row["machine"]), *counts], first), one["severity"] if one else ""))
        if one:
            page.say(_finding(one), "    ")


def _row(cells: Sequence[Any], first: int) -> str:
    name, *rest = cells
    return f"{name:<{first}} " + " ".join(f"{cell:>{len(head)}}" for cell, head in zip(rest, HEADS[1:], strict=True))


def _finding(row: dict[str, Any]) -> str:
    title = patterns.catalogue()[row["pattern"]].title
    where = f"{row['motion'] or row['signal']}: " if row["motion"] or row["signal"] else ""
    sure = "" if row["certain_count"] == row["count"] else f" ({row['certain_count']} certain)"
    periods = counted(row["periods"], "period")
    return f"{SEVERITY[row['severity']]}: {where}{title}, {row['count']} x{sure} in {periods}, last {row['last'][:10]}"


def _errors(page: Page, found: Fleet) -> None:
    if found.errors.is_empty():
        return
    page.heading("Errors")
    for machine, period, why in found.errors.head(WHOLE).iter_rows():
        page.say(why, f"  {printable(machine)} {period}".rstrip() + ": ", "      ")
    if (rest := found.errors.height - WHOLE) > 0:
        page.say(f"and {rest} more, with --json", "  ")
