"""The review of one log or week: what was found, what every signal did, and how hard the machine worked.

The address says which review, which occurrence and which window of the lanes. Small stores hold keys only. The
callbacks are plain functions (`callbacks`); `register` ties them to the page, `_register_browser` what only the
browser does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from dash import ClientsideFunction, Dash, Input, Output, State, ctx
from dash.exceptions import PreventUpdate

from dashboards.data import Fault, Source, Week
from dashboards.pages._page import ADDRESS, THEME, Built, Page, Query, address, read_query, visitor
from dashboards.pages._parts import choose_machine
from dashboards.pages.week import callbacks, ids, parts
from dashboards.pages.week.layout import causes, layout

__all__ = ["PAGE", "layout"]

PATH: Final = "/review"

On = Callable[..., Callable[[Callable[..., Any]], Any]]


def build(source: Source, query: Query) -> Built:
    """The page of the review that an address names: of an archive's machine the latest week where it names none."""
    if dump := query.get("dump"):
        week = _brought(source, dump)
        addable = source.intake is not None and source.intake.adding is not None
        key = {"machine": None, "week": None, "dump": dump, "addable": "yes" if addable else None}
        body = layout(week, key, _reopened(week, query))
        return Built(f"{week.facts.machine}: review", body, _times(week))
    machine, name = query.get("machine"), query.get("week")
    if source.archived and machine is None:
        machines = source.machines()
        if len(machines) != 1:
            hrefs = {one: address(PATH, machine=one) for one in machines}
            return Built("Review", choose_machine("Latest review of a machine", hrefs))
        machine = machines[0]
    weeks = source.weeks_of(machine) if machine and source.archived and machine in source.machines() else []
    week = source.week(machine, name or (weeks[-1] if weeks else None))
    if not source.archived:
        body = layout(week, reopened=_reopened(week, query))
        return Built(f"{week.facts.machine}: review", body, _times(week))
    shown = name or weeks[-1]
    at = weeks.index(shown)
    around = weeks[at - 1] if at else None, weeks[at + 1] if at + 1 < len(weeks) else None
    key = {"machine": machine, "week": shown}
    title = f"{machine}: review of {shown}"
    return Built(title, layout(week, key, _reopened(week, query), around), _times(week))


def _reopened(week: Week, query: Query) -> dict[str, Any]:
    """What an address asks for, and of which motion the work is shown; None: the first."""
    motion = query.get("motion")
    known = motion in {facts.motion for facts in week.motions}
    return {**callbacks.reopened(week, query), "motion": motion if known else None}


def _times(week: Week) -> str:
    return f"Times: {week.facts.zone}."


def _brought(source: Source, dump: str) -> Week:
    """The review of a dump that this visitor has brought in; the error of its reader where there is none."""
    if source.intake is None:
        raise Fault("an address of the log that is shown", f"dump {dump}", "open the start page")
    return source.intake.week(visitor(), dump)


def register(app: Dash, source: Source) -> None:
    """Ties the callbacks to the page, whichever review it shows."""

    def on(*where: Any, **more: Any) -> Callable[[Callable[..., Any]], Any]:
        return app.callback(*where, **more)

    def of(key: Any) -> Week:
        return _brought(source, key["dump"]) if key.get("dump") else source.week(key["machine"], key["week"])

    _register_browser(app)
    _register_choice(on, of)
    _register_work(on, of)
    _register_lanes(on, of)

    @on(
        Output(ids.CAUSES, "children"),
        Output(ids.MADE, "data"),
        Input(ADDRESS, "search"),
        State(ids.MADE, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _weigh(search: Any, shown: Any, key: Any) -> Any:
        found, made = callbacks.weigh(of(key), read_query(search), shown)
        return causes(found), made

    @on(
        Output(ids.STARTS, "figure"),
        Output(ids.STARTS_READING, "children"),
        Output(ids.CYCLIC, "figure"),
        Output(ids.CYCLIC_READING, "children"),
        Input(ids.MOTION, "value"),
        Input(THEME, "data"),
        State(ids.KEY, "data"),
    )
    def _draw_duty(motion: Any, theme: Any, key: Any) -> Any:
        return callbacks.draw_duty(of(key), motion, theme)


def _register_work(on: On, of: Callable[[Any], Week]) -> None:
    @on(Output(ids.WORK, "children"), Input(ids.KEY, "data"))
    def _work(key: Any) -> Any:
        return parts.kinds(of(key).kinds)


def _register_choice(on: On, of: Callable[[Any], Week]) -> None:
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
        Output(ids.FINDINGS, "selectedRows"),
        Input(ADDRESS, "search"),
        Input(ids.ASKED, "data"),
        Input(ids.PICKED, "data"),
        Input(ids.PREVIOUS, "n_clicks"),
        Input(ids.NEXT, "n_clicks"),
        Input(ids.NUMBER, "value"),
        State(ids.CHOSEN, "data"),
        State(ids.KEY, "data"),
    )
    def _choose(search: Any, asked: Any, picked: Any, _back: Any, _on: Any, number: Any, before: Any, key: Any) -> Any:
        week = of(key)
        if ctx.triggered_id not in (None, ADDRESS):
            wanted = (asked or {}).get("key")
            chosen = callbacks.choose(week, ctx.triggered_id, wanted, picked, number, before)
            return chosen, *callbacks.show_chosen(week, chosen, before)
        asked_for = callbacks.reopened(week, read_query(search))["chosen"]
        if asked_for == before:
            raise PreventUpdate
        if asked_for is None:
            return None, *callbacks.nothing_chosen()
        return asked_for, *callbacks.show_chosen(week, asked_for, before)


def _register_lanes(on: On, of: Callable[[Any], Week]) -> None:
    @on(
        Output(ids.WINDOW, "data"),
        Input(ids.DRAGGED, "data"),
        Input(ids.CHOSEN, "data"),
        Input(ids.SHOW, "n_clicks"),
        *(Input(button, "n_clicks") for button in ids.MOVES),
        State(ids.WINDOW, "data"),
        State(ids.REOPENED, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _move(relayout: Any, chosen: Any, *rest: Any) -> Any:
        window, asked, key = rest[-3:]
        return callbacks.move(of(key), ctx.triggered_id, relayout, chosen, window, asked)

    @on(
        Output(ids.LANES, "figure"),
        Output(ids.LANES_READING, "children"),
        Input(ids.WINDOW, "data"),
        Input(ids.WIDTH, "data"),
        Input(THEME, "data"),
        Input(ids.CHOSEN, "data"),
        State(ids.KEY, "data"),
    )
    def _draw_lanes(window: Any, width: Any, theme: Any, chosen: Any, key: Any) -> Any:
        return callbacks.draw_lanes(of(key), window, width, theme, chosen)


def _register_browser(app: Dash) -> None:
    """What the browser does by itself.

    Charts and lists also report what the page itself did to them. Such an echo must not reach the server: it would
    overtake, and so undo, the answer to what the reader did last.
    """
    for name, *where in (
        ("dragged", Output(ids.DRAGGED, "data"), Input(ids.LANES, "relayoutData")),
        ("picked", Output(ids.PICKED, "data"), Input(ids.OCCURRENCES, "selectedRows"), State(ids.CHOSEN, "data")),
        ("asked", Output(ids.ASKED, "data"), Input(ids.FINDINGS, "selectedRows"), State(ids.CHOSEN, "data")),
        ("remember", Input(ids.CHOSEN, "data")),
        ("rememberView", Input(ids.WINDOW, "data"), State(ids.SPAN, "data")),
        ("rememberMotion", Input(ids.MOTION, "value"), State(ids.MOTION, "options")),
        (
            "motionAsked",
            Output(ids.MOTION, "value"),
            Input(ADDRESS, "search"),
            State(ids.MOTION, "options"),
            State(ids.MOTION, "value"),
        ),
    ):
        app.clientside_callback(  # type: ignore[no-untyped-call]
            ClientsideFunction("page", name), *where, prevent_initial_call=True
        )


PAGE: Final = Page(
    path=PATH,
    name="Review",
    identity=("machine", "week", "dump"),
    carries=("machine", "week", "dump"),
    fits=lambda source: True,
    build=build,
    register=register,
)
