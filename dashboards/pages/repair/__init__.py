"""After a repair: what has gone, what is less or worse, what cannot be said yet, and how long to watch.

The address says the machine and the work: one that is written down (`repair`), or a time that was typed (`at`,
`until`). A comparison reads the log and reviews both sides, so it is made in the background; the page asks for it until
it is there. Exchanged parts (`moved`) are told by what it left behind, at once.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from dash import ClientsideFunction, Dash, Input, Output, State
from dash.exceptions import PreventUpdate

from dashboards.data import Source
from dashboards.data.repair import Subject, subject
from dashboards.jobs import Jobs
from dashboards.pages._page import ADDRESS, THEME, Built, Page, Query, read_query, visitor
from dashboards.pages.repair import callbacks, ids
from dashboards.pages.repair.layout import PATH, choose_machine, layout

About = Callable[[Any], Subject]
"""What the key that a page keeps is about."""


def build(source: Source, query: Query) -> Built:
    """The page of the machine and the work that the address names, or the choice of a machine."""
    machine, dump = query.get("machine"), query.get("dump")
    if source.archived and dump is None and machine is None and len(source.machines()) != 1:
        return Built("After a repair", choose_machine(source.machines()))
    about = subject(source, machine, dump, visitor())
    return Built(f"{about.machine}: after a repair", layout(about, query), f"Times: {about.zone}.")


def register(app: Dash, source: Source) -> None:
    """Ties the callbacks to the page."""
    jobs = Jobs()

    def about(key: Any) -> Subject:
        return subject(source, key["machine"], key["dump"], visitor())

    _register_comparison(app, about, jobs)
    _register_exchange(app, about, jobs)
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("repair", "ask"),
        Input(ids.ASK, "n_clicks"),
        Input(ids.AT, "n_submit"),
        Input(ids.UNTIL, "n_submit"),
        State(ids.AT, "value"),
        State(ids.UNTIL, "value"),
        prevent_initial_call=True,
    )


def _register_comparison(app: Dash, about: About, jobs: Jobs) -> None:
    """The comparison: asked for, stopped, begun again, drawn."""

    @app.callback(
        Output(ids.RESULT, "children"),
        Output(ids.TICK, "disabled"),
        Output(ids.SHOWN, "data"),
        Output(ids.EXCHANGE, "hidden"),
        Output(ids.FIRST, "options"),
        Output(ids.SECOND, "options"),
        Output(ids.STOP, "hidden"),
        Output(ids.AGAIN, "hidden"),
        Input(ids.TICK, "n_intervals"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _result(_ticks: Any, key: Any) -> Any:
        return callbacks.result(about(key), key, jobs)

    @app.callback(
        Output(ids.STOP, "disabled"), Input(ids.STOP, "n_clicks"), State(ids.KEY, "data"), prevent_initial_call=True
    )
    def _stop(clicks: Any, key: Any) -> Any:
        if clicks:
            callbacks.stop(about(key), key, jobs)
        return bool(clicks)

    @app.callback(
        Output(ids.RESULT, "children", allow_duplicate=True),
        Output(ids.TICK, "disabled", allow_duplicate=True),
        Input(ids.AGAIN, "n_clicks"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _again(clicks: Any, key: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        return callbacks.again(about(key), key, jobs)

    @app.callback(
        Output(ids.RATIOS, "children"),
        Output(ids.TIMES, "children"),
        Input(ids.SHOWN, "data"),
        Input(THEME, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _draw(shown: Any, theme: Any, key: Any) -> Any:
        return callbacks.draw(about(key), key, jobs, theme, shown=shown)


def _register_exchange(app: Dash, about: About, jobs: Jobs) -> None:
    """Exchanged parts: what they left behind."""

    @app.callback(
        Output(ids.MOVED, "children"),
        Output(ids.FIRST, "value"),
        Output(ids.SECOND, "value"),
        Input(ADDRESS, "search"),
        Input(ids.SHOWN, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _moved(search: Any, shown: Any, key: Any) -> Any:
        return callbacks.moved(about(key), key, jobs, read_query(search), shown=shown)

    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("repair", "exchange"),
        Input(ids.FIRST, "value"),
        Input(ids.SECOND, "value"),
        prevent_initial_call=True,
    )


PAGE: Final = Page(
    path=PATH,
    name="After a repair",
    identity=("machine", "dump", "repair", "at", "until"),
    carries=("machine", "dump"),
    fits=lambda source: True,
    build=build,
    register=register,
)
