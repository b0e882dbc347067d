"""What the page consists of, from top to bottom."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dash import dcc, html

from dashboards.data import History, Source
from dashboards.figures.weekly import NAMES
from dashboards.pages import _parts
from dashboards.pages._changes import changes
from dashboards.pages._page import address
from dashboards.pages.trends import grids, ids
from dashboards.series import TimeView

PATH: Final = "/weeks"
SIGNS: Final = {"usual": "●", "above": "▲", "below": "▼", "little": "○", "apart": "✕"}
"""The points of the weekly chart as characters."""
BRIEF: Final = {"usual": "within", "above": "above", "below": "below", "little": "little log", "apart": "not judged"}


def layout(source: Source, machine: str) -> Any:
    """The whole page of a machine."""
    history = source.history()
    weeks = history.weeks_of(machine)
    reviewed = html.A(f"review of {weeks[-1]}", href=address("/review", machine=machine, week=weeks[-1]))
    return html.Div(
        [
            _parts.heading(
                "Weeks of ",
                html.Strong(machine),
                facts=[
                    ("Weeks", history.span()),
                    ("Latest", reviewed if weeks else "no week with a review"),
                ],
            ),
            html.Div(
                [changes(history.changes(machine), history.compared(), named=False), _parts.cautions(history.cautions)],
                className="pair uneven",
            ),
            _patterns(history, machine),
            _times(history, machine),
            _life(history, machine),
            _parts.panel(
                "Kinds of work",
                dcc.Loading(
                    html.Div(html.P("Counting …", className="reading"), id=ids.WORK), type="dot", color="var(--partly)"
                ),
            ),
            _weeks(history, machine),
            _entries(history, machine),
            _not_assessed(history, machine),
            _parts.panel("What limits these answers", html.Ul([html.Li(note) for note in history.notes]))
            if history.notes
            else None,
        ]
    )


def _patterns(history: History, machine: str) -> Any:
    rows = [{**row, "href": address(PATH, machine=machine, pattern=row["key"])} for row in history.series(machine)]
    if not rows:
        return _parts.panel(
            "Patterns over the weeks",
            html.P("None of the patterns that these logs allow to be assessed was found in any week."),
        )
    legend = [html.Li([html.Span(SIGNS[kind], className=f"point {kind}", **_parts.aria(hidden="true")), text])
              for kind, text in NAMES.items()]  # fmt: skip
    legend.append(html.Li([html.Span(className="swatch band"), "what chance alone explains"]))
    legend.append(html.Li([html.Span(className="swatch unknown"), "no log"]))
    if history.works(machine):
        legend.append(html.Li([html.Span("◇", className="point", **_parts.aria(hidden="true")), "work written down"]))
    return _parts.panel(
        "Patterns over the weeks",
        html.P("A pattern's name leads to its weeks below, a week to its review.", className="reading"),
        grids.series(ids.SERIES, rows),
        html.H3(id=ids.TITLE),
        html.Div(id=ids.BASES),
        html.Ul(legend, className="legend", **_parts.aria(label="How a week is drawn")),
        html.Div(
            [
                _parts.chart(
                    ids.WEEKLY,
                    ids.WEEKLY_READING,
                    "Rate of the pattern in each week, with its limits",
                    clear_on_unhover=True,
                ),
                grids.numbers(ids.NUMBERS),
            ],
            className="pair uneven wide",
        ),
    )


def _times(history: History, machine: str) -> Any:
    views = history.times(machine)
    title = "Times of contactor, brake and speed change"
    if not views:
        return _parts.panel(
            title, html.P("The logs carry no confirmation and no fast output, so these times are not known.")
        )
    return _parts.panel(
        title,
        html.P(
            "The median of each week; a line is drawn where a drift or a change of level is shown.", className="reading"
        ),
        dcc.Loading(html.Div(id=ids.TIMES, className="multiples"), type="dot", color="var(--partly)"),
        html.Details(
            [html.Summary("The numbers of these charts"), grids.times("times-numbers", _time_rows(views, machine))]
        ),
    )


def _life(history: History, machine: str) -> Any:
    view = history.life_view(machine)
    if view is None:
        return None
    reviewed = set(history.weeks_of(machine))
    rows = [
        {
            **row,
            "href": address("/review", machine=machine, week=row["week"]) if row["week"] in reviewed else "",
            "log": "little" if row["little"] else "",
        }
        for row in reversed(view.frame.drop("at", "end").rows(named=True))
    ]
    return _parts.panel(
        "Life: hours of full load",
        dcc.Loading(html.Div(id=ids.LIFE, className="pair"), type="dot", color="var(--partly)"),
        html.Details([html.Summary("The numbers of these charts"), grids.life("life-numbers", rows)]),
    )


def _time_rows(views: Sequence[TimeView], machine: str) -> list[dict[str, Any]]:
    return [
        {"time": view.title, "href": address("/review", machine=machine, week=row["week"]), **row}
        for view in views
        for row in view.frame.drop("at").iter_rows(named=True)
    ]


def _weeks(history: History, machine: str) -> Any:
    rows = [
        {**row, "href": address("/review", machine=machine, week=row["week"]) if row["reviewed"] else ""}
        for row in history.week_rows(machine)
    ]
    return _parts.panel(
        "Every week",
        html.P("Weeks begin on Monday at 00:00 in the zone of the machine's log.", className="reading"),
        html.Div(html.Button("Save as CSV", id=ids.SAVE, type="button"), className="buttons"),
        grids.weeks(ids.WEEKS, rows),
    )


def _not_assessed(history: History, machine: str) -> Any:
    lacking = history.not_assessed(machine)
    if not lacking:
        return None
    body = [html.Tr([html.Th(name, scope="row"), html.Td(why)]) for name, why in lacking]
    return _parts.panel(
        "Not assessed, or only in part, in the latest week",
        html.P("That is not the same as none found.", className="reading"),
        html.Details(
            [
                html.Summary(f"{len(lacking)} patterns and what they lack"),
                _parts.table(["Pattern", "What is lacking"], body),
            ]
        ),
    )


def _entries(history: History, machine: str) -> Any:
    told = history.entries(machine)
    if not told:
        return None
    body = [html.Tr([html.Th(day, scope="row"), html.Td(kind), html.Td(text)]) for day, kind, text in told]
    return _parts.panel("What was written down", _parts.table(["Day (UTC)", "Kind", "What"], body))
