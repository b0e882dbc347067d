"""The review of one log: what was found, what every signal did, and how hard the machine worked.

Small stores hold keys only: the window of the lanes, the chosen occurrence, the motion, and the theme and width that
the browser told. The callbacks are plain functions (`callbacks`); `register` ties them to the page.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, ctx

from dashboards.data import Week
from dashboards.pages.week import callbacks, ids
from dashboards.pages.week.layout import layout

__all__ = ["layout", "register"]


def register(app: Dash, week: Week) -> None:
    """Ties the callbacks to the page of one review."""

    def on(*where: Any, **more: Any) -> Callable[[Callable[..., Any]], Any]:
        return app.callback(*where, **more)

    _register_browser(app)

    @on(
        Output(ids.CHOSEN, "data"),
        Output(ids.CHOSEN_TITLE, "children"),
        Output(ids.EVIDENCE, "children"),
        Output(ids.NUMBER, "value"),
        Output(ids.NUMBER, "max"),
        Output(ids.OCCURRENCES, "rowData"),
        Output(ids.OCCURRENCES, "selectedRows"),
        Output(ids.OCCURRENCES, "scrollTo"),
        Output(ids.CHOSEN_PANEL, "hidden"),
        Output(ids.LIST, "hidden"),
        Input(ids.FINDINGS, "selectedRows"),
        Input(ids.PICKED, "data"),
        Input(ids.PREVIOUS, "n_clicks"),
        Input(ids.NEXT, "n_clicks"),
        Input(ids.NUMBER, "value"),
        State(ids.CHOSEN, "data"),
        prevent_initial_call=True,
    )
    def _choose(finding_rows: Any, picked: Any, _previous: Any, _next: Any, number: Any, before: Any) -> Any:
        chosen = callbacks.choose(week, ctx.triggered_id, finding_rows, picked, number, before)
        return chosen, *callbacks.show_chosen(week, chosen, before)

    @on(
        Output(ids.WINDOW, "data"),
        Input(ids.DRAGGED, "data"),
        Input(ids.CHOSEN, "data"),
        Input(ids.SHOW, "n_clicks"),
        *(Input(button, "n_clicks") for button in ids.MOVES),
        State(ids.WINDOW, "data"),
        prevent_initial_call=True,
    )
    def _move(relayout: Any, chosen: Any, *rest: Any) -> Any:
        return callbacks.move(week, ctx.triggered_id, relayout, chosen, rest[-1])

    @on(
        Output(ids.LANES, "figure"),
        Output(ids.LANES_READING, "children"),
        Input(ids.WINDOW, "data"),
        Input(ids.WIDTH, "data"),
        Input(ids.THEME, "data"),
        State(ids.CHOSEN, "data"),
    )
    def _draw_lanes(window: Any, width: Any, theme: Any, chosen: Any) -> Any:
        return callbacks.draw_lanes(week, window, width, theme, chosen)

    if week.motions:
        _register_duty(on, week)


def _register_browser(app: Dash) -> None:
    """What the browser does by itself.

    Charts and lists also report what the page itself did to them. Such an echo must not reach the server: it would
    overtake, and so undo, the answer to what the reader did last.
    """
    for name, *where in (
        ("theme", Output(ids.THEME, "data"), Output(ids.SWITCH, "children"), Input(ids.SWITCH, "n_clicks")),
        ("dragged", Output(ids.DRAGGED, "data"), Input(ids.LANES, "relayoutData")),
        ("picked", Output(ids.PICKED, "data"), Input(ids.OCCURRENCES, "selectedRows"), State(ids.CHOSEN, "data")),
    ):
        app.clientside_callback(ClientsideFunction("page", name), *where)  # type: ignore[no-untyped-call]


def _register_duty(on: Callable[..., Callable[[Callable[..., Any]], Any]], week: Week) -> None:
    motions = [facts.motion for facts in week.motions]
    buttons = [ids.MOTION_BUTTON + motion for motion in motions]

    @on(
        Output(ids.MOTION, "data"),
        *(Output(button, "aria-pressed") for button in buttons),
        *(Input(button, "n_clicks") for button in buttons),
        prevent_initial_call=True,
    )
    def _pick(*_clicks: Any) -> Any:
        return callbacks.pick_motion(ctx.triggered_id, motions)

    @on(
        Output(ids.STARTS, "figure"),
        Output(ids.STARTS_READING, "children"),
        Output(ids.CYCLIC, "figure"),
        Output(ids.CYCLIC_READING, "children"),
        Input(ids.MOTION, "data"),
        Input(ids.THEME, "data"),
    )
    def _draw_duty(motion: Any, theme: Any) -> Any:
        return callbacks.draw_duty(week, motion, theme)
