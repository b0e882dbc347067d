"""Bringing a dump in: files to the server, what they are, what their names stand for, the machine, the review.

Files do not pass through a callback: the browser sends them as they are to FILE_ADDRESS. What the page states lies
beside the dump on disk; the address names the dump.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from dash import Dash, Input, Output, State, ctx, no_update
from dash.exceptions import PreventUpdate

from dashboards.data import Source
from dashboards.pages._page import ADDRESS, THEME, Built, Page, Query, visitor
from dashboards.pages._parts import heading
from dashboards.pages.bring import callbacks, ids, into
from dashboards.pages.bring.callbacks import Desk
from dashboards.shelf import MACHINE, PROFILE, ShelfError

__all__ = ["FILE_ADDRESS", "PAGE"]

FILE_ADDRESS: Final = "/bring/file"
On = Callable[..., Callable[[Callable[..., Any]], Any]]


def build(source: Source, query: Query) -> Built:
    """Where files come in, or the page of a dump that was brought in."""
    assert source.intake is not None
    dump = query.get("dump")
    who = visitor()
    body = callbacks.opened(source.intake, who, dump) if dump else callbacks.entrance(source.intake, who)
    return Built("Bring a dump in", [heading("A controller dump, and what it says"), *body])


def register(app: Dash, source: Source) -> None:
    """Ties the callbacks to the page, and takes files."""
    if source.intake is None:
        return
    intake = source.intake

    def on(*where: Any, **more: Any) -> Callable[[Callable[..., Any]], Any]:
        return app.callback(*where, **more)

    def desk(dump: Any) -> Desk:
        if not dump:
            raise PreventUpdate
        return Desk(intake, visitor(), str(dump))

    app.server.add_url_rule(FILE_ADDRESS, "bring_file", lambda: _take(source), methods=["PUT"])
    _register_coming(on, desk)
    _register_names(on, desk)
    _register_review(on, desk, intake.forget_dump)
    _register_archive(on, desk)


def _take(source: Source) -> Any:
    """One file as its bytes come."""
    from flask import jsonify, request

    asked = request.args
    assert source.intake is not None
    try:
        dump = source.intake.take(
            visitor(),
            asked.get("dump"),
            asked.get("name", ""),
            request.content_length,
            request.stream,
            int(asked.get("modified", "0")) if asked.get("modified", "0").isdecimal() else 0,
        )
    except ShelfError as fault:
        return jsonify(fault=str(fault)), fault.status
    return jsonify(dump=dump)


def _register_coming(on: On, desk: Callable[[Any], Desk]) -> None:
    @on(
        Output(ADDRESS, "pathname", allow_duplicate=True),
        Output(ADDRESS, "search", allow_duplicate=True),
        Input(ids.CAME, "data"),
        prevent_initial_call=True,
    )
    def _open(came: Any) -> Any:
        if not came or not came.get("dump"):
            raise PreventUpdate
        return callbacks.place(came["dump"], "bring")

    @on(
        Output(ids.LOOKED, "children"),
        Output(ids.LOOK_TICK, "disabled"),
        Input(ids.LOOK_TICK, "n_intervals"),
        State(ids.DUMP, "data"),
    )
    def _look(_ticks: Any, dump: Any) -> Any:
        return callbacks.look(desk(dump))

    @on(
        Output(ids.LOOKED, "children", allow_duplicate=True),
        Output(ids.PROFILE_TOLD, "children"),
        Output(ids.MACHINE_TOLD, "children"),
        Input(ids.PROFILE_FILE, "data"),
        Input(ids.MACHINE_FILE, "data"),
        Input(ids.ANEW, "n_clicks"),
        State(ids.DUMP, "data"),
        prevent_initial_call=True,
    )
    def _given(profile: Any, machine: Any, _anew: Any, dump: Any) -> Any:
        if ctx.triggered_id == ids.ANEW:
            if not _anew:
                raise PreventUpdate
            return callbacks.anew(desk(dump)), None, None
        what, content = (PROFILE, profile) if ctx.triggered_id == ids.PROFILE_FILE else (MACHINE, machine)
        if not content:
            raise PreventUpdate
        fault, page = callbacks.given(desk(dump), what, content["text"])
        return (page, fault, no_update) if what == PROFILE else (page, no_update, fault)


def _register_names(on: On, desk: Callable[[Any], Desk]) -> None:
    @on(
        Output(ids.NUMBER, "data"),
        Input(ids.NAMES, "selectedRows"),
        Input(ids.EARLIER, "n_clicks"),
        Input(ids.LATER, "n_clicks"),
        State(ids.NUMBER, "data"),
        prevent_initial_call=True,
    )
    def _walk(chosen: Any, _earlier: Any, _later: Any, before: Any) -> Any:
        return callbacks.show(chosen, {ids.EARLIER: -1, ids.LATER: 1}.get(str(ctx.triggered_id), 0), before)

    @on(
        Output(ids.LANES, "figure"),
        Output(ids.LANES_READING, "children"),
        Output(ids.LANES_BOX, "hidden"),
        Input(ids.NUMBER, "data"),
        Input(ids.NAMES, "cellValueChanged"),
        Input(THEME, "data"),
        Input(ids.WIDTH, "data"),
        State(ids.NAMES, "rowData"),
        State(ids.DUMP, "data"),
        prevent_initial_call=True,
    )
    def _draw(shown: Any, _changed: Any, theme: Any, wide: Any, rows: Any, dump: Any) -> Any:
        if not shown or not wide:  # the browser is going to tell how wide they may be
            raise PreventUpdate
        return callbacks.draw(desk(dump), shown, rows, theme, wide)


def _register_review(on: On, desk: Callable[[Any], Desk], forget: Callable[[str, str], None]) -> None:
    @on(
        Output(ids.PROGRESS, "children", allow_duplicate=True),
        Output(ids.REVIEW_TICK, "disabled", allow_duplicate=True),
        Input(ids.REVIEW, "n_clicks"),
        State(ids.NAMES, "rowData"),
        State(ids.KEPT_PROFILE, "data"),
        State(ids.ZONE, "value"),
        State(ids.TAPPED, "value"),
        *(State(key, "value") for key in ids.FIELDS),
        State(ids.DUMP, "data"),
        prevent_initial_call=True,
    )
    def _begin(clicks: Any, rows: Any, by_profile: Any, zone: Any, tapped: Any, *rest: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        how = None if by_profile else (str(zone or ""), str(tapped or ""))
        fault = callbacks.begin(desk(rest[-1]), rows, how, rest[:-1])
        return ("Beginning …", False) if fault is None else (fault, True)

    @on(
        Output(ids.PROGRESS, "children"),
        Output(ids.REVIEW_TICK, "disabled"),
        Output(ids.STOP, "hidden"),
        Output(ADDRESS, "pathname", allow_duplicate=True),
        Output(ADDRESS, "search", allow_duplicate=True),
        Input(ids.REVIEW_TICK, "n_intervals"),
        State(ids.DUMP, "data"),
        prevent_initial_call=True,
    )
    def _progress(_ticks: Any, dump: Any) -> Any:
        said, ended, done = callbacks.progress(desk(dump))
        pathname, search = callbacks.place(str(dump), "review") if done else (no_update, no_update)
        return said, ended, ended, pathname, search

    @on(Output(ids.STOP, "disabled"), Input(ids.STOP, "n_clicks"), State(ids.DUMP, "data"), prevent_initial_call=True)
    def _stop(clicks: Any, dump: Any) -> Any:
        if clicks:
            callbacks.stop(desk(dump))
        return False

    @on(
        Output(ADDRESS, "search", allow_duplicate=True),
        Input(ids.DELETE, "n_clicks"),
        State(ids.DUMP, "data"),
        prevent_initial_call=True,
    )
    def _delete(clicks: Any, dump: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        forget(visitor(), str(dump))
        return ""


def _register_archive(on: On, desk: Callable[[Any], Desk]) -> None:
    @on(
        Output(ids.INTO, "children"),
        Output(ids.INTO_TICK, "disabled"),
        Input(ids.INTO_TICK, "n_intervals"),
        State(ids.DUMP, "data"),
        prevent_initial_call=True,
    )
    def _into(_ticks: Any, dump: Any) -> Any:
        return into.shown(desk(dump))

    @on(
        Output(ids.INTO, "children", allow_duplicate=True),
        Output(ids.INTO_TICK, "disabled", allow_duplicate=True),
        Input(ids.ADD, "n_clicks"),
        State(ids.ADD_PLATE, "value"),
        State(ids.DUMP, "data"),
        prevent_initial_call=True,
    )
    def _add(clicks: Any, chosen: Any, dump: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        return into.add(desk(dump), chosen)


PAGE: Final = Page(
    path="/bring",
    name="Bring a dump in",
    identity=("dump",),
    carries=("dump",),
    fits=lambda source: source.intake is not None,
    build=build,
    register=register,
)
