"""What happens when the reader does something: plain functions from the address to what the page shows."""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go
from dash import html
from dash.exceptions import PreventUpdate

from dashboards.data import History
from dashboards.figures import drift, life, weekly, work
from dashboards.figures.theme import palette
from dashboards.pages import _parts
from dashboards.pages._page import Query, address
from dashboards.pages.trends import grids
from dashboards.pages.trends.layout import BRIEF, PATH, SIGNS
from dashboards.series import WorkView

OWN = "own"


def machine_of(history: History, query: Query) -> str:
    """The machine of an address; PreventUpdate where it names none of the history."""
    machine = query.get("machine") or (history.machines[0] if len(history.machines) == 1 else "")
    if machine not in history.machines:
        raise PreventUpdate
    return machine


def draw_weekly(
    history: History, query: Query, theme: str | None
) -> tuple[str, Any, go.Figure, str, list[dict[str, Any]]]:
    """Title, choice of what rates are given against, chart, sentence and numbers of the pattern of an address."""
    machine = machine_of(history, query)
    known = [row["key"] for row in history.series(machine)]
    if not known:
        raise PreventUpdate
    key = query.get("pattern", "")
    key = key if key in known else known[0]
    bases = history.bases(machine, key)
    base = query.get("per", OWN)
    base = base if base in bases else OWN
    view = history.weekly_view(machine, key, base)
    hrefs = {name: address(PATH, machine=machine, pattern=key, per=None if name == OWN else name) for name in bases}
    names = {name: f"per {text}" for name, text in bases.items()}
    reviewed = set(history.weeks_of(machine))
    rows = [
        {
            "week": row["week"],
            "href": review_address(machine, row["week"], key) if row["week"] in reviewed else "",
            **{name: row[name] for name in ("count", "amount", "rate", "low", "high")},
            "where": f"{SIGNS[row['kind']]} {BRIEF[row['kind']]}",
            "meaning": weekly.NAMES[row["kind"]],
        }
        for row in reversed(view.frame.rows(named=True))
    ]
    title = f"{view.title[0].upper()}{view.title[1:]}, {view.scale.unit}"
    choice = _parts.choices(names, base, hrefs, "What the rate is given against")
    return title, choice, weekly.figure(view, palette(theme)), view.reading, rows


def review_address(machine: str, week: str, key: str) -> str:
    """Where the review of a week shows a pattern; a finding's key ends in the signal, which a week does not tell."""
    pattern, _, motion = key.partition("/")
    return address("/review", machine=machine, week=week, finding=f"{pattern}/{motion}/")


def draw_times(history: History, query: Query, theme: str | None) -> list[Any]:
    """A small chart of each measured time, with its sentence."""
    colours = palette(theme)
    parts = []
    for view in history.times(machine_of(history, query)):
        chart = _parts.drawn(drift.figure(view, colours), view.reading, f"{view.title}, median of each week")
        parts.append(html.Div([html.H3(view.title), chart]))
    return parts


def draw_life(history: History, query: Query, theme: str | None) -> list[Any]:
    """What is used with its forecast, and the hours of each week, each with its sentence."""
    machine = machine_of(history, query)
    view = history.life_view(machine)
    if view is None:
        raise PreventUpdate
    colours = palette(theme)
    charts = [
        ("Used of what its group lasts", life.used(view, colours), " ".join(history.life(machine))),
        ("In each week", life.weekly(view, colours), view.reading),
    ]
    return [
        html.Div([html.H3(title), _parts.drawn(figure, said, f"Hours of full load: {title.lower()}")])
        for title, figure, said in charts
    ]


def draw_work(history: History, query: Query, theme: str | None) -> list[Any]:
    """What the weeks show of the kinds of work, a chart of each motion's runs and of the cycles, and their numbers."""
    found = history.work(machine_of(history, query))
    colours = palette(theme)
    charts = [
        html.Div(
            [
                html.H3(view.title),
                _parts.drawn(work.figure(view, colours), _numbered(view), f"{view.title}: share of each kind by week"),
            ]
        )
        for view in found.views
    ]
    parts = [html.P(found.reading), html.Div(charts, className="multiples")]
    if found.rows:
        parts.append(grids.work("work-kinds", found.rows))
    if charts:
        weekly = [{"subject": view.title, **row} for view in found.views for row in view.frame.rows(named=True)]
        numbers = [html.Summary("The numbers of these charts"), grids.work_weeks("work-numbers", weekly)]
        parts.append(html.Details(numbers))
    return [*parts, html.Ul([html.Li(note) for note in found.notes], className="reading")]


def _numbered(view: WorkView) -> str:
    """What the numbers in a chart stand for."""
    return " ".join(f"{kind.number}: {kind.words}." for kind in view.kinds)
