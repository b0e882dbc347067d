"""What the page consists of, from top to bottom."""

from __future__ import annotations

from typing import Any, Final

from dash import dcc, html

from dashboards.data import History, Source
from dashboards.pages import _parts
from dashboards.pages._changes import changes
from dashboards.pages._page import Query, address
from dashboards.pages.machines import grids, ids

PATH: Final = "/machines"
COMPARE: Final = "compare"
"""Key of the address: the pattern in which the machines are held side by side."""


def layout(source: Source, query: Query) -> Any:
    """The whole page."""
    history = source.history()
    return html.Div(
        [
            _parts.heading("Machines", facts=[("Weeks", history.span())]),
            _tour(source),
            html.Div(
                [changes(history.changes(), history.compared(), named=True), _parts.cautions(history.cautions)],
                className="pair uneven",
            ),
            _fleet(history),
            _side_by_side(history),
            _notes(history),
        ]
    )


def _tour(source: Source) -> Any:
    """Leads somebody who sees the demonstration for the first time."""
    if not source.tour:
        return None
    stories = [
        html.Li([html.A(name, href=address("/weeks", machine=name)), f": {story}."]) for name, story in source.tour
    ]
    return _parts.panel(
        "You are looking at a demonstration",
        html.P(
            "A stone yard that does not exist, with six invented hoists and simulated logs of twelve weeks. This is "
            "what was put into each machine; see whether the pages find it. A name leads to the machine's weeks, a "
            "week to its review, a finding there to the signals that prove it."
        ),
        html.Ul(stories),
    )


def _fleet(history: History) -> Any:
    rows = [
        {
            **row,
            "weeks_href": address("/weeks", machine=row["machine"], pattern=row["series"]),
            "review_href": address("/review", machine=row["machine"], week=row["last"]) if row["last"] else "",
            "life_href": address("/weeks", machine=row["machine"]) if row["life"] is not None else "",
        }
        for row in history.fleet()
    ]
    tied = (
        " A range of places means that the limits of these machines do not separate them: none of them is known to "
        "come before the others."
        if history.tied()
        else ""
    )
    filtering = dcc.Input(id=ids.FILTER, type="text", debounce=False, className="text-box")
    return _parts.panel(
        "Who needs a person first",
        html.P(
            "By what a machine's most pressing pattern of the last weeks asks for, whether it comes oftener than "
            f"before, and its rate against that of its sisters.{tied}",
            className="reading",
        ),
        html.Div(
            [
                html.Label(["Show only machines with", filtering], htmlFor=ids.FILTER),
                html.Button("Save as CSV", id=ids.SAVE, type="button"),
            ],
            className="buttons",
        ),
        grids.fleet(ids.FLEET, rows),
    )


def _side_by_side(history: History) -> Any:
    if not history.funnels():
        return _parts.panel(
            "Machines side by side", html.P("No pattern was found that at least two machines could show.")
        )
    return _parts.panel(
        "Machines side by side",
        html.P(
            "Each point is a machine: how often the pattern came in the last weeks, over how much it was used. "
            "Pale bands: where chance alone puts a machine (95 % and 99.8 % limits); ▲ above and ▼ below them.",
            className="reading",
        ),
        html.Div(id=ids.CHOICES),
        html.Div(
            [
                _parts.chart(ids.FUNNEL, ids.FUNNEL_READING, "Machines side by side: rate over use, with limits"),
                grids.numbers(ids.NUMBERS),
            ],
            className="pair wide",
        ),
    )


def _notes(history: History) -> Any:
    if not history.notes:
        return None
    return _parts.panel("What limits these answers", html.Ul([html.Li(note) for note in history.notes]))
