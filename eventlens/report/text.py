"""The review as plain text for a terminal: what a technician acts on, generated from the fields of the review.

Lines are wrapped to a width and hold no colour; each line has a style beside it that a terminal may show.
"""

from __future__ import annotations

from collections import Counter

from eventlens.report import _findings, _gaps, _record, causes, life, motions, words
from eventlens.report.lines import Line, Page
from eventlens.report.words import Clock
from eventlens.result import Review
from eventlens.schema import SEVERITIES


def render(review: Review, *, width: int = 80) -> str:
    """The report as plain text, no line longer than `width` columns (40 at least)."""
    return _page(review, width).text()


def styled(review: Review, *, width: int = 80) -> list[Line]:
    """The same lines, each with its style ('', 'heading' or a severity)."""
    return _page(review, width).lines


def _page(review: Review, width: int) -> Page:
    page, clock = Page(width), Clock.of(review.log)
    _headline(page, review)
    _record.write(page, review, clock)
    _history(page, review, clock)
    motions.write(page, review, clock)
    _work(page, review)
    life.write(page, review, clock)
    _findings.write(page, review, clock)
    causes.write(page, review)
    _gaps.write(page, review)
    page.heading("Before anybody touches the machine")
    for caution in review.cautions:
        page.say(caution, "- ")
    return page


def _work(page: Page, review: Review) -> None:
    """The usual kinds of runs and work cycles."""
    if review.work.table.is_empty():
        return
    page.heading("Kinds of work")
    for (subject,), part in review.work.table.group_by("subject", maintain_order=True):
        for number, (share, said) in enumerate(part.select("share", "words").iter_rows()):
            page.pair("" if number else str(subject), f"{100 * share:.0f} %: {said}")
    for note in review.work.notes:
        page.pair("too little", note)


def _history(page: Page, review: Review, clock: Clock) -> None:
    """What people wrote down, and how it counts."""
    if not review.history:
        return
    page.heading("Written down")
    for one in review.history:
        counts = f" ({one.counts})" if one.counts else ""
        page.say(f"{clock(one.at)} {one.kind.replace('_', ' ')}: {one.text}{counts}", "- ")


def _headline(page: Page, review: Review) -> None:
    """The machine, and how many findings of which severity."""
    plate = review.machine.machine
    facts = [
        f"{label} {value}"
        for label, value in (
            ("group", plate.group),
            ("trolley group", plate.trolley_group),
            ("bridge group", plate.bridge_group),
            ("rated load", f"{plate.rated_load_kg:g} kg" if plate.rated_load_kg else None),
        )
        if value
    ]
    page.say(": ".join([plate.id, ", ".join(facts) or "no group given"]), style="heading")
    found = Counter(review.findings["severity"].to_list())
    if not found:
        page.say("No findings.")
        return
    worst = next(name for name in SEVERITIES if found[name])
    parts = ", ".join(f"{found[name]} {words.SEVERITY[name]}" for name in SEVERITIES if found[name])
    page.say(f"{words.counted(review.findings.height, 'finding')}: {parts}.", style=worst)
