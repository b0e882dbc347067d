"""What the page answers: plain functions of its subject, the address, and the work in the background."""

from __future__ import annotations

from typing import Any

from dash import no_update
from dash.exceptions import PreventUpdate

from dashboards.data import Fault
from dashboards.data.repair import Asked, Compared, Subject, places
from dashboards.figures import before_after, ratios
from dashboards.figures.theme import palette
from dashboards.jobs import Job, Jobs, StoppedError
from dashboards.pages import _parts
from dashboards.pages._page import Query
from dashboards.pages.repair import parts
from dashboards.shelf import ShelfError


def asked_of(key: Query) -> Asked:
    """What a query asks to be compared."""
    return Asked(key.get("repair") or "", key.get("at") or "", key.get("until") or "")


def _job(about: Subject, key: Query, jobs: Jobs) -> Job:
    """The comparison, begun if it was not; PreventUpdate where nothing is asked."""
    chosen = about.chosen(asked_of(key))
    if chosen is None:
        raise PreventUpdate
    return jobs.start((*about.key, chosen), lambda tell: Compared(about.compare(chosen, tell)))


def _made(about: Subject, key: Query, jobs: Jobs) -> Compared | None:
    """The comparison, if it is there."""
    chosen = about.chosen(asked_of(key))
    job = jobs.find((*about.key, chosen)) if chosen else None
    return job.result if job is not None and job.done and job.fault is None else None


def result(about: Subject, key: Query, jobs: Jobs) -> tuple[Any, ...]:
    """What is known; whether to ask no more; whether charts can be drawn; whether places are hidden, and which; and
    whether the buttons that stop it and begin it again are hidden.
    """
    known = jobs.find((*about.key, about.chosen(asked_of(key))))
    job = known if known is not None and known.done else _job(about, key, jobs)
    if not job.done:
        return parts.working(job.stage), False, no_update, True, [], [], False, True
    if isinstance(job.fault, StoppedError):
        return parts.stopped(), True, no_update, True, [], [], True, False
    if job.fault is not None:
        return parts.fault(told(job.fault)), True, no_update, True, [], [], True, True
    found: Compared = job.result
    options = [{"label": text, "value": name} for name, text in places(found.motions).items()]
    return parts.result(about, found), True, True, False, options, options, True, True


def stop(about: Subject, key: Query, jobs: Jobs) -> None:
    """Asks the comparison to end at its next stage."""
    jobs.stop((*about.key, about.chosen(asked_of(key))))


def again(about: Subject, key: Query, jobs: Jobs) -> tuple[Any, bool]:
    """Begins a comparison that was stopped anew; the page while it is made, and that it asks on."""
    return parts.working(_job(about, key, jobs).stage), False


def told(fault: Exception) -> str:
    """One sentence for whatever went wrong."""
    if isinstance(fault, Fault | ShelfError):
        return str(fault)
    return f"The program failed with {type(fault).__name__}. Please report it with the log that led to it."


def draw(about: Subject, key: Query, jobs: Jobs, theme: str | None, *, shown: bool) -> tuple[Any, Any]:
    """The charts of rates and of measured times."""
    found = _made(about, key, jobs) if shown else None
    if found is None:
        raise PreventUpdate
    colours = palette(theme)
    drawn = [one for one in found.rated if one.low is not None]
    rates = (
        _parts.drawn(
            ratios.figure(drawn, colours),
            parts.ratios_reading(drawn),
            "Rate after over rate before of each pattern, with its limits",
        )
        if drawn
        else None
    )
    return rates, [parts.time(view, before_after.figure(view, colours)) for view in found.times]


def moved(about: Subject, key: Query, jobs: Jobs, query: Query, *, shown: bool) -> tuple[Any, Any, Any]:
    """Whether faults went with the part that changed places, and both places as the address says them."""
    found = _made(about, key, jobs) if shown else None
    if found is None:
        raise PreventUpdate
    text = query.get("moved", "")
    if not text:
        return None, None, None
    first, _, second = text.partition(":")
    known = places(found.motions)
    values = first if first in known else None, second if second in known else None
    try:
        return parts.moved(found.moved(text), first, second), *values
    except Fault as fault:
        return parts.fault(str(fault)), *values
