"""What happens when the reader does something: plain functions from keys to what the page shows next."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypedDict

import plotly.graph_objects as go
from dash import no_update
from dash.exceptions import PreventUpdate

from dashboards import readings
from dashboards.data import Causes, Week
from dashboards.figures import cyclic, lanes, starts
from dashboards.figures.theme import palette
from dashboards.findings import PAGE
from dashboards.pages.week import ids, parts
from dashboards.tables import Window
from dashboards.wallclock import read_window


class Chosen(TypedDict):
    """The chosen occurrence: key of its finding, and its number from 1."""

    key: str
    number: int


class Reopened(TypedDict):
    """What an address asks for: an occurrence, and the window of the lanes [ms on the axis]; each may be None."""

    chosen: Chosen | None
    window: list[float] | None
    made: list[str]
    """Outcomes of checks."""


def reopened(week: Week, query: Mapping[str, str]) -> Reopened:
    """What an address asks for; what the review does not hold is left out."""
    key, number = query.get("finding", ""), query.get("number", "1")
    known = {row["key"] for row in week.findings.rows()}
    if key not in known:  # the weeks of a pattern do not tell the signal
        key = next((name for name in sorted(known) if key.endswith("/") and name.startswith(key)), "")
    chosen = Chosen(key=key, number=_held(number, week.findings.count(key))) if key else None
    try:
        start, end = (float(place) for place in query.get("view", "").split("_"))
        window = list(week.fitted((start, end))) if start < end else None
    except ValueError:
        window = None
    return Reopened(chosen=chosen, window=window, made=made_in(query))


def made_in(query: Mapping[str, str]) -> list[str]:
    """The outcomes of checks that an address holds."""
    return [one for one in query.get("checked", "").split(",") if one]


def weigh(week: Week, query: Mapping[str, str], shown: str | None) -> tuple[Causes, str]:
    """The causes after the checks that an address holds; PreventUpdate where these are shown already."""
    made = made_in(query)
    if ",".join(made) == (shown or ""):
        raise PreventUpdate
    return week.after(made), ",".join(made)


def _held(number: str, count: int) -> int:
    """The number of an address, held within what there is."""
    return min(max(int(number), 1), count) if number.isdecimal() else 1


def choose(
    week: Week,
    trigger: str | None,
    asked: str | None,
    picked: Chosen | None,
    number: float | None,
    chosen: Chosen | None,
) -> Chosen:
    """Which occurrence is chosen after an action of the reader; PreventUpdate where that changes nothing.

    asked: key of the finding that was picked in the list.
    """
    key = asked if trigger == ids.ASKED else chosen["key"] if chosen else None
    if not key:
        raise PreventUpdate
    now = chosen["number"] if chosen and chosen["key"] == key else 1
    wanted: float = {ids.PREVIOUS: now - 1, ids.NEXT: now + 1, ids.NUMBER: now if number is None else number}.get(
        trigger or "", now
    )
    if trigger == ids.PICKED and picked and picked["key"] == key:
        wanted = picked["number"]
    count = week.findings.count(key)
    result = Chosen(key=key, number=min(max(int(wanted), 1), count))
    if result == chosen:
        raise PreventUpdate
    return result


def nothing_chosen() -> tuple[Any, ...]:
    """What `show_chosen` gives, where no occurrence is chosen any more."""
    return "", None, no_update, no_update, no_update, [], no_update, True, True, []


def show_chosen(week: Week, chosen: Chosen, shown: Chosen | None) -> tuple[Any, ...]:
    """Title, evidence, number, its maximum, the page of the list with its chosen row, and the row of the finding.

    shown: the occurrence that was shown before; the list is sent anew only where another page is needed.
    """
    key, number = chosen["key"], chosen["number"]
    page = (number - 1) // PAGE
    same_page = shown is not None and shown["key"] == key and (shown["number"] - 1) // PAGE == page
    rows = week.findings.occurrences(key, page)
    row = rows[(number - 1) % PAGE]
    finding = week.findings.row(key)
    assert finding is not None
    count = finding["count"]
    listed = f" (list: {page * PAGE + 1:,} to {min((page + 1) * PAGE, count):,})" if count > PAGE else ""
    return (
        f"{finding['pattern']}, {finding['motion']}: {number:,} of {count:,}{listed}",
        parts.evidence(finding, row),
        number,
        count,
        no_update if same_page else rows,
        {"ids": [row["id"]]},
        {"rowId": row["id"], "rowPosition": "middle"},
        False,
        False,
        {"ids": [key]},
    )


def move(
    week: Week,
    trigger: str | None,
    relayout: dict[str, Any] | None,
    chosen: Chosen | None,
    window: Window,
    asked: Reopened | None = None,
) -> list[float]:
    """The window of the lanes after a drag, a button or a choice; PreventUpdate where it stays.

    asked: what the address asked for when the page was opened; its occurrence keeps the window of the address.
    """
    start, end = window
    width = end - start
    if trigger in (ids.CHOSEN, ids.SHOW):
        if chosen is None:
            raise PreventUpdate
        if trigger == ids.CHOSEN and asked and asked["window"] and asked["chosen"] == chosen:
            return asked["window"]
        return list(week.around(chosen["key"], chosen["number"]))
    if trigger == ids.DRAGGED:
        dragged = read_window(relayout)
        if dragged is None:
            raise PreventUpdate
        return list(week.whole if isinstance(dragged, str) else week.fitted((dragged[0], dragged[1])))
    if trigger == ids.ZOOM_IN:
        middle = _middle(week, chosen, window)
        return list(week.fitted((middle - width / 4, middle + width / 4)))
    steps = {
        ids.ZOOM_OUT: (-width / 2, width / 2),
        ids.EARLIER: (-width / 2, -width / 2),
        ids.LATER: (width / 2, width / 2),
    }
    before, after = steps.get(trigger or "", (0.0, 0.0))
    return list(week.whole if trigger == ids.WHOLE else week.fitted((start + before, end + after)))


def _middle(week: Week, chosen: Chosen | None, window: Window) -> float:
    """What zooming in closes in on: the chosen occurrence where it is in view, else the middle."""
    middle = (window[0] + window[1]) / 2
    if chosen is None:
        return middle
    start, end = week.findings.mark(chosen["key"], chosen["number"]).window
    return (start + end) / 2 if start >= window[0] and end <= window[1] else middle


def draw_lanes(
    week: Week, window: Window, width: int | None, theme: str | None, chosen: Chosen | None
) -> tuple[go.Figure, str]:
    """The lanes of a window and their reading; PreventUpdate before the browser has measured its width [px]."""
    if not width:
        raise PreventUpdate
    mark = week.findings.mark(chosen["key"], chosen["number"]) if chosen else None
    view = week.lanes.view((window[0], window[1]), lanes.bins_for(width))
    return lanes.figure(view, mark, palette(theme), width), readings.lanes(view, mark)


def draw_duty(week: Week, motion: str, theme: str | None) -> tuple[go.Figure, str, go.Figure, str]:
    """Starts per hour and cyclic duration of a motion, each with its reading."""
    by_hour, share = week.duty.starts_per_hour(motion), week.duty.cyclic_duration(motion)
    colours = palette(theme)
    return (
        starts.figure(by_hour, colours),
        readings.starts(by_hour),
        cyclic.figure(share, colours),
        readings.cyclic(share),
    )
