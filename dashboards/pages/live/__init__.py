"""A machine as it runs: whether anybody follows, what came last, and findings as they become certain.

The address says machine and record. While the page is open it asks again and again, and is answered what is new; it
does not ask while nobody looks at it, nor when whoever follows has ended.
"""

from __future__ import annotations

from typing import Any, Final

from dash import ClientsideFunction, Dash, Input, Output, State
from dash.exceptions import PreventUpdate

from dashboards.data import Source
from dashboards.data.live import Live
from dashboards.pages._page import THEME, Built, Page, Query, screen_of
from dashboards.pages.live import callbacks, ids
from dashboards.pages.live.layout import everybody, one
from dashboards.pages.live.parts import PATH


def build(source: Source, query: Query) -> Built:
    """The page of the machine that the address names; without one that of the only record, or of everybody."""
    live = _live(source)
    machine, key = query.get("machine"), query.get("record")
    known = live.followers()
    # the machine that the reader comes from need not be followed by anybody
    if key is None and (not known or (machine not in {one.machine for one in known} and len(known) > 1)):
        return Built("Machines as they run", everybody(live), "Times: of each machine's log.")
    if key is None and len(known) == 1:
        machine = None
    view = live.view(machine, key)
    screen = screen_of(query)
    body = one(live, view, screen.theme if screen else None)
    return Built(f"{view.follower.machine}: as it runs", body, f"Times: {view.zone}.")


def _live(source: Source) -> Live:
    if source.live is None:
        raise PreventUpdate
    return source.live


def register(app: Dash, source: Source) -> None:
    """Ties the callbacks to the page."""

    @app.callback(
        Output(ids.NOW, "children"),
        Output(ids.HEARD, "children"),
        Output(ids.TOLD, "parts"),
        Output(ids.CHART, "figure"),
        Output(ids.READING, "children"),
        Output(ids.NOTES, "children"),
        Output(ids.SHOWN, "data"),
        Output(ids.TICK, "disabled"),
        Output(ids.AGAIN, "hidden"),
        Input(ids.ASKED, "data"),
        Input(THEME, "data"),
        State(ids.SHOWN, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _answer(_asked: Any, theme: Any, before: Any, key: Any) -> Any:
        return callbacks.answer(_live(source), key, before or {}, theme)

    @app.callback(
        Output(ids.EVERYBODY, "children"),
        Output(ids.EVERYBODY_SHOWN, "data"),
        Input(ids.EVERYBODY_ASKED, "data"),
        State(ids.EVERYBODY_SHOWN, "data"),
        prevent_initial_call=True,
    )
    def _everybody(_asked: Any, before: Any) -> Any:
        return callbacks.everybody(_live(source), before)

    for asked, *how in (
        (ids.ASKED, Input(ids.TICK, "n_intervals"), Input(ids.AGAIN, "n_clicks")),
        (ids.EVERYBODY_ASKED, Input(ids.EVERYBODY_TICK, "n_intervals")),
    ):
        app.clientside_callback(  # type: ignore[no-untyped-call]
            ClientsideFunction("live", "ask"), Output(asked, "data"), *how, prevent_initial_call=True
        )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("live", "answered"), Input(ids.SHOWN, "data")
    )


PAGE: Final = Page(
    path=PATH,
    name="Live",
    identity=("machine", "record"),
    carries=("machine",),
    fits=lambda source: source.live is not None,
    build=build,
    register=register,
)
