"""The start page of an archive: what has changed, who needs a person first, and machines side by side."""

from __future__ import annotations

from typing import Any, Final

from dash import ClientsideFunction, Dash, Input, Output

from dashboards.data import Source
from dashboards.pages._page import ADDRESS, BY_WEEK, THEME, Built, Page, Query, read_query
from dashboards.pages.machines import callbacks, ids
from dashboards.pages.machines.layout import PATH, layout


def build(source: Source, query: Query) -> Built:
    """The page."""
    return Built("Machines", layout(source, query), BY_WEEK)


def register(app: Dash, source: Source) -> None:
    """Ties the callbacks to the page."""

    @app.callback(
        Output(ids.CHOICES, "children"),
        Output(ids.FUNNEL, "figure"),
        Output(ids.FUNNEL_READING, "children"),
        Output(ids.NUMBERS, "rowData"),
        Input(ADDRESS, "search"),
        Input(THEME, "data"),
    )
    def _draw(search: Any, theme: Any) -> Any:
        return callbacks.draw_funnel(source.history(), read_query(search), theme)

    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("page", "narrow"), Input(ids.FILTER, "value"), prevent_initial_call=True
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("page", "saveMachines"), Input(ids.SAVE, "n_clicks"), prevent_initial_call=True
    )


PAGE: Final = Page(
    path=PATH,
    name="Machines",
    identity=(),
    carries=(),
    fits=lambda source: source.archived,
    build=build,
    register=register,
)
