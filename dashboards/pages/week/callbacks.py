"""From what is shown to what the page consists of then: plain functions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from dash import no_update
from dash.exceptions import PreventUpdate

from dashboards import readings
from dashboards.data import Causes, Week
from dashboards.figures import cyclic, lanes, spread, starts
from dashboards.figures.theme import palette
from dashboards.findings import PAGE
from dashboards.pages._fixed import Fixed
from dashboards.pages._page import THEME, Screen
from dashboards.pages._parts import Part, chart
from dashboards.pages.week import ids, parts
from dashboards.pages.week.state import Chosen, Done, State, follow, made_in
from dashboards.tables import Window


def answer(week: Week, done: Done, before: State, screen: Screen | None) -> tuple[Any, ...]:
    """State, parts of the chosen occurrence, lanes and their reading after something that the reader did.

    One answer for all of it: a part that waited for another's answer would take twice as long.
    """
    after = follow(week, done, before)
    chosen, window = after["chosen"], after["window"]
    again = chosen != before["chosen"]
    shown = show_chosen(week, chosen, before["chosen"]) if again else UNCHANGED
    drawn: tuple[Any, ...] = (no_update, no_update)
    if screen and (again or window != before["window"] or not {ids.WIDTH, THEME}.isdisjoint(done.by)):
        drawn = draw_lanes(week, (window[0], window[1]), screen, chosen)
    return after, *shown, *drawn


def weigh(week: Week, query: Mapping[str, str], shown: str | None) -> tuple[Causes, str]:
    """The causes after the checks that an address holds; PreventUpdate where these are shown already."""
    made = made_in(query)
    if ",".join(made) == (shown or ""):
        raise PreventUpdate
    return week.after(made), ",".join(made)


class Occurrence(NamedTuple):
    """What the parts of the page that show the chosen occurrence say, in the order of the outputs."""

    title: Any
    evidence: Any
    number: Any
    most: Any
    """Largest number there is."""
    rows: Any
    """The page of the list that holds it."""
    row: Any
    """Its row."""
    scroll: Any
    hidden: Any
    """Whether its panel is hidden."""
    list_hidden: Any
    finding: Any
    """The row of its finding."""


UNCHANGED: Final = Occurrence(*(no_update,) * len(Occurrence._fields))
NOTHING: Final = Occurrence("", None, no_update, no_update, no_update, [], no_update, True, True, [])


def show_chosen(week: Week, chosen: Chosen | None, shown: Chosen | None) -> Occurrence:
    """What there is to say of the chosen occurrence.

    shown: the occurrence that was shown before; the list is sent anew only where another page is needed.
    """
    if chosen is None:
        return NOTHING
    key, number = chosen["key"], chosen["number"]
    page = (number - 1) // PAGE
    same_page = shown is not None and shown["key"] == key and (shown["number"] - 1) // PAGE == page
    rows = week.findings.occurrences(key, page)
    row = rows[(number - 1) % PAGE]
    finding = week.findings.row(key)
    assert finding is not None
    count = finding["count"]
    listed = f" (list: {page * PAGE + 1:,} to {min((page + 1) * PAGE, count):,})" if count > PAGE else ""
    return Occurrence(
        title=f"{finding['pattern']}, {finding['motion']}: {number:,} of {count:,}{listed}",
        evidence=Fixed(*parts.evidence(finding, row)),
        number=number,
        most=count,
        rows=no_update if same_page else rows,
        row={"ids": [row["id"]]},
        scroll={"rowId": row["id"], "rowPosition": "middle"},
        hidden=False,
        list_hidden=False,
        finding={"ids": [key]},
    )


def draw_lanes(week: Week, window: Window, screen: Screen, chosen: Chosen | None) -> tuple[Any, str]:
    """The lanes of a window, drawn for a screen, and their reading."""
    mark = week.findings.mark(chosen["key"], chosen["number"]) if chosen else None
    view = week.lanes.view(window, lanes.bins_for(screen.width, screen.density))
    return lanes.figure(view, mark, palette(screen.theme), screen.width), readings.lanes(view, mark)


def draw_duty(week: Week, motion: str, theme: str | None) -> tuple[Part, Part]:
    """Charts of starts per hour and cyclic duration of a motion, each with its reading."""
    by_hour, share = week.duty.starts_per_hour(motion), week.duty.cyclic_duration(motion)
    colours = palette(theme)
    return (
        chart(
            ids.STARTS,
            ids.STARTS_READING,
            "Starts per hour over the log, against the limit",
            starts.figure(by_hour, colours),
            readings.starts(by_hour),
        ),
        chart(
            ids.CYCLIC,
            ids.CYCLIC_READING,
            "Cyclic duration over the log, against the limit",
            cyclic.figure(share, colours),
            readings.cyclic(share),
        ),
    )


def draw_times(week: Week, theme: str | None) -> list[Part]:
    """Charts of the measured times; PreventUpdate where the log knows of none."""
    if not week.spreads:
        raise PreventUpdate
    colours = palette(theme)
    return [parts.time(view, spread.figure(view, colours)) for view in week.spreads]
