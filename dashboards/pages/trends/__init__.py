"""The weeks of one machine: what has changed, how often each pattern came, and how the measured times drift."""

from __future__ import annotations

from typing import Any, Final

from dash import ClientsideFunction, Dash, Input, Output, State

from dashboards.data import Fault, Source
from dashboards.pages._page import ADDRESS, BY_WEEK, THEME, Built, Page, Query, address, read_query
from dashboards.pages._parts import choose_machine
from dashboards.pages.trends import callbacks, ids
from dashboards.pages.trends.layout import PATH, layout


def build(source: Source, query: Query) -> Built:
    """The page of the machine that the address names, or the choice of one."""
    machines, machine = source.machines(), query.get("machine")
    if machine is None and len(machines) == 1:
        machine = machines[0]
    if machine is None:
        hrefs = {name: address(PATH, machine=name) for name in machines}
        return Built("Weeks", choose_machine("Weeks of a machine", hrefs))
    if machine not in machines:
        raise Fault("a machine of the archive", f"'{machine}'", "choose one on the page Machines")
    return Built(f"{machine}: weeks", layout(source, machine), BY_WEEK)


def register(app: Dash, source: Source) -> None:
    """Ties the callbacks to the page."""

    @app.callback(
        Output(ids.TITLE, "children"),
        Output(ids.BASES, "children"),
        Output(ids.WEEKLY, "figure"),
        Output(ids.WEEKLY_READING, "children"),
        Output(ids.NUMBERS, "rowData"),
        Input(ADDRESS, "search"),
        Input(THEME, "data"),
    )
    def _draw(search: Any, theme: Any) -> Any:
        return callbacks.draw_weekly(source.history(), read_query(search), theme)

    @app.callback(Output(ids.TIMES, "children"), Input(THEME, "data"), State(ADDRESS, "search"))
    def _times(theme: Any, search: Any) -> Any:
        return callbacks.draw_times(source.history(), read_query(search), theme)

    @app.callback(Output(ids.LIFE, "children"), Input(THEME, "data"), State(ADDRESS, "search"))
    def _life(theme: Any, search: Any) -> Any:
        return callbacks.draw_life(source.history(), read_query(search), theme)

    @app.callback(Output(ids.WORK, "children"), Input(THEME, "data"), State(ADDRESS, "search"))
    def _work(theme: Any, search: Any) -> Any:
        return callbacks.draw_work(source.history(), read_query(search), theme)

    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("page", "openWeek"),
        Input(ids.WEEKLY, "clickData"),
        State(ids.NUMBERS, "rowData"),
        prevent_initial_call=True,
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("page", "saveWeeks"), Input(ids.SAVE, "n_clicks"), prevent_initial_call=True
    )


PAGE: Final = Page(
    path=PATH,
    name="Weeks",
    identity=("machine",),
    carries=("machine",),
    fits=lambda source: source.archived,
    build=build,
    register=register,
)
