"""The catalogue of patterns as text: what each one means, what it needs and by which limits it judges."""

from __future__ import annotations

import polars as pl

from eventlens import patterns
from eventlens.errors import EventlensError, nearest
from eventlens.limits import Limit
from eventlens.machine import Machine
from eventlens.patterns import Pattern
from eventlens.report.lines import Page
from eventlens.report.words import SEVERITY, span


def overview(*, width: int | None = None) -> str:
    """Every pattern with name, title and meaning: one line each, or wrapped to a width."""
    known = patterns.catalogue()
    column = max(map(len, known)) + 2
    rows = [(name, _titled(pattern)) for name, pattern in known.items()]
    if width is None:
        return "".join(f"{name:<{column}}{text}\n" for name, text in rows)
    page = Page(width)
    for name, text in rows:
        page.say(text, f"{name:<{column}}")
    return page.text()


def markdown() -> str:
    """The catalogue as a table: what the README shows."""
    rows = [
        f"| `{name}` | {_titled(pattern)} | {SEVERITY[pattern.severity]} |"
        for name, pattern in patterns.catalogue().items()
    ]
    return "\n".join(["| pattern | what it is | asks for |", "|---|---|---|", *rows]) + "\n"


def _titled(pattern: Pattern) -> str:
    """Title and meaning; the meaning's own head word (before its colon) gives way to the title."""
    head, colon, rest = pattern.meaning.partition(": ")
    return f"{pattern.title}: {rest if colon else head}"


def entry(name: str, *, width: int = 80) -> str:
    """One pattern in full. EventlensError, with the nearest known name, for one that does not exist."""
    known = patterns.catalogue()
    if name not in known:
        raise EventlensError("the name of a pattern", f"'{name}'", nearest(name, known))
    pattern, page = known[name], Page(width)
    page.say(f"{name}: {pattern.title}", style="heading")
    page.gap()
    for paragraph in pattern.text.split("\n\n"):
        page.say(" ".join(paragraph.split()))
        page.gap()
    page.pair("severity", f"{SEVERITY[pattern.severity]}: {pattern.why_severity}")
    page.pair("usually", pattern.usually)
    page.pair("looked for on", ", ".join(pattern.motions) or "the machine as a whole")
    page.pair("compared per", patterns.EXPOSURES[pattern.exposure])
    _needs(page, pattern)
    _limits(page, pattern)
    _example(page, pattern)
    return page.text()


def _needs(page: Page, pattern: Pattern) -> None:
    ways = [" and ".join(_open(name) for name in way) for way in pattern.needs if way]
    for number, way in enumerate(ways):
        page.pair("" if number else "needs", ("or " if number else "") + way)
    if not ways:
        page.pair("needs", "no signal of its own")
    if any("MOTION" in way or "DIRECTION" in way for way in ways):
        page.pair("", "(MOTION: the motion looked at, DIRECTION: either of its two)")
    settings = dict.fromkeys(filter(None, (pattern.setting(Machine(), m, frozenset()) for m in pattern.motions)))
    if settings:
        page.pair("settings", ", ".join(settings))
    if pattern.rhythm:
        page.pair("record", "one with a heartbeat or a fixed sample cycle")
    if pattern.finest:
        page.pair("log step", f"not resolvable where it is larger than {' or '.join(pattern.finest)}")
    if pattern.least_log_s:
        page.pair("least log", f"{span(pattern.least_log_s)}, below which finding nothing says nothing")


def _example(page: Page, pattern: Pattern) -> None:
    """What it looks like: a small log, drawn as `review --show` draws any other."""
    from eventlens.report.examples import review_example  # reviews: the overview does not need it
    from eventlens.report.occurrence import picture

    if pattern.example:
        review = review_example(pattern.name)
        page.heading("For example")
        picture(page, review, review.occurrences.filter(pl.col("pattern") == pattern.name).row(0, named=True))


def _open(name: str) -> str:
    return name.replace("{motion}", "MOTION").replace("*", "DIRECTION").replace("+", "DIRECTION (both)")


def _limits(page: Page, pattern: Pattern) -> None:
    if not pattern.limits:
        page.pair("limits", "none of its own")
        return
    page.heading("Limits, to be changed under [limits] in the machine file")
    for item in pattern.limits:
        _limit(page, item)


def _limit(page: Page, item: Limit) -> None:
    page.say(f"{item.name} = {item.default:g} {item.unit}", "  ")
    page.say(f"source: {item.source}", "    ")
    page.say(f"trade: {item.trade}", "    ")
