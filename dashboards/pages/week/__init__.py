"""The review of one log or week: what was found, what every signal did, and how hard the machine worked.

The address says which review, which occurrence and which window of the lanes. Whatever the reader does is one question
to the server and one answer, which holds all that changes: `state` finds what is shown then, `callbacks` the parts that
show it. Both are plain functions; `register` ties them to the page, `_register_browser` what only the browser does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from dash import ClientsideFunction, Dash, Input, Output, State, ctx

from dashboards.data import Fault, Source, Week
from dashboards.pages._page import ADDRESS, THEME, Built, Page, Query, address, read_query, screen, screen_of, visitor
from dashboards.pages._parts import choose_machine
from dashboards.pages.week import callbacks, ids, parts
from dashboards.pages.week.layout import causes, layout
from dashboards.pages.week.state import Done, reopened

__all__ = ["PAGE", "layout"]

PATH: Final = "/review"

On = Callable[..., Callable[[Callable[..., Any]], Any]]


def build(source: Source, query: Query) -> Built:
    """The page of the review that an address names: of an archive's machine the latest week where it names none."""
    shown_on = screen_of(query)
    if dump := query.get("dump"):
        week = _brought(source, dump)
        addable = source.intake is not None and source.intake.adding is not None
        key = {"machine": None, "week": None, "dump": dump, "addable": "yes" if addable else None}
        body = layout(week, key, reopened(week, query), screen=shown_on)
        return Built(f"{week.facts.machine}: review", body, _times(week))
    if record := query.get("record"):
        after = query.get("after")
        week = _followed(source, record, after)
        key = {"machine": week.facts.machine, "week": None, "record": record, "after": after}
        body = layout(week, key, reopened(week, query), screen=shown_on)
        return Built(f"{week.facts.machine}: review of what was followed", body, _times(week))
    machine, name = query.get("machine"), query.get("week")
    if source.archived and machine is None:
        machines = source.machines()
        if len(machines) != 1:
            hrefs = {one: address(PATH, machine=one) for one in machines}
            return Built("Review", choose_machine("Latest review of a machine", hrefs))
        machine = machines[0]
    weeks = source.weeks_of(machine) if machine and source.archived and machine in source.machines() else []
    week = source.week(machine, name or (weeks[-1] if weeks else None))
    asked = reopened(week, query)
    if not source.archived:
        body = layout(week, reopened=asked, screen=shown_on)
        return Built(f"{week.facts.machine}: review", body, _times(week))
    shown = name or weeks[-1]
    at = weeks.index(shown)
    around = weeks[at - 1] if at else None, weeks[at + 1] if at + 1 < len(weeks) else None
    key = {"machine": machine, "week": shown}
    return Built(f"{machine}: review of {shown}", layout(week, key, asked, around, shown_on), _times(week))


def _times(week: Week) -> str:
    return f"Times: {week.facts.zone}."


def _brought(source: Source, dump: str) -> Week:
    """The review of a dump that this visitor has brought in; the error of its reader where there is none."""
    if source.intake is None:
        raise Fault("an address of the log that is shown", f"dump {dump}", "open the start page")
    return source.intake.week(visitor(), dump)


def _followed(source: Source, record: str, after: str | None) -> Week:
    """The review of a record that is followed, made after an instant."""
    if source.live is None:
        raise Fault("an address of the log that is shown", f"record {record}", "open the start page")
    return source.live.week(record, after)


def register(app: Dash, source: Source) -> None:
    """Ties the callbacks to the page, whichever review it shows."""

    def on(*where: Any, **more: Any) -> Callable[[Callable[..., Any]], Any]:
        return app.callback(*where, **more)

    def of(key: Any) -> Week:
        if key.get("record"):
            return _followed(source, key["record"], key["after"])
        return _brought(source, key["dump"]) if key.get("dump") else source.week(key["machine"], key["week"])

    _register_browser(app)
    _register_work(on, of)
    _register_lanes(on, of)

    @on(
        Output(ids.CAUSES, "children"),
        Output(ids.MADE, "data"),
        Input(ids.STATED, "data"),
        State(ids.MADE, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _weigh(search: Any, shown: Any, key: Any) -> Any:
        found, made = callbacks.weigh(of(key), read_query(search), shown)
        return causes(found), made

    @on(
        Output(ids.STARTS_BOX, "children"),
        Output(ids.CYCLIC_BOX, "children"),
        Input(ids.LANES_DRAWN, "data"),
        Input(ids.MOTION, "value"),
        Input(THEME, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _draw_duty(_drawn: Any, motion: Any, theme: Any, key: Any) -> Any:
        return callbacks.draw_duty(of(key), motion, theme)


def _register_work(on: On, of: Callable[[Any], Week]) -> None:
    @on(
        Output(ids.WORK, "children"),
        Input(ids.LANES_DRAWN, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _work(_drawn: Any, key: Any) -> Any:
        return parts.kinds(of(key).kinds)

    @on(
        Output(ids.TIMES, "children"),
        Input(ids.LANES_DRAWN, "data"),
        Input(THEME, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _times(_drawn: Any, theme: Any, key: Any) -> Any:
        return callbacks.draw_times(of(key), theme)


def _register_lanes(on: On, of: Callable[[Any], Week]) -> None:
    @on(
        Output(ids.STATE, "data"),
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
        Output(ids.LANES, "figure"),
        Output(ids.LANES_READING, "children"),
        Input(ids.SEARCHED, "data"),
        Input(ids.ASKED, "data"),
        Input(ids.PICKED, "data"),
        Input(ids.NUMBER, "value"),
        Input(ids.DRAGGED, "data"),
        Input(ids.WIDTH, "data"),
        Input(THEME, "data"),
        *(Input(button, "n_clicks") for button in ids.BUTTONS),
        State(ids.STATE, "data"),
        State(ids.KEY, "data"),
        prevent_initial_call=True,
    )
    def _answer(
        search: Any, asked: Any, picked: Any, number: Any, dragged: Any, width: Any, theme: Any, *rest: Any
    ) -> Any:
        *clicks, before, key = rest
        week = of(key)
        by = {one["prop_id"].rpartition(".")[0] for one in ctx.triggered}
        done = Done(
            by=by,
            reopened=reopened(week, read_query(search)) if ids.SEARCHED in by else None,
            finding=(asked or {}).get("key"),
            picked=picked,
            number=number,
            dragged=dragged,
            clicks=dict(zip(ids.BUTTONS, clicks, strict=True)),
        )
        return callbacks.answer(week, done, before, screen(width, theme))


def _register_browser(app: Dash) -> None:
    """What the browser does by itself.

    Charts and lists also report what the page itself did to them. Such an echo must not reach the server: it would
    overtake, and so undo, the answer to what the reader did last.
    """
    for name, *where in (
        ("dragged", Output(ids.DRAGGED, "data"), Input(ids.LANES, "relayoutData")),
        ("picked", Output(ids.PICKED, "data"), Input(ids.OCCURRENCES, "selectedRows"), State(ids.STATE, "data")),
        ("asked", Output(ids.ASKED, "data"), Input(ids.FINDINGS, "selectedRows"), State(ids.STATE, "data")),
        ("searched", Output(ids.SEARCHED, "data"), Input(ADDRESS, "search"), State(ids.STATE, "data")),
        ("stated", Output(ids.STATED, "data"), Input(ADDRESS, "search"), State(ids.MADE, "data")),
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
    # at the beginning too: an address may have named its finding by the beginning of its key, and no window
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("page", "remember"),
        Output(ids.REMEMBERED, "data"),
        Input(ids.STATE, "data"),
        State(ids.SPAN, "data"),
    )


PAGE: Final = Page(
    path=PATH,
    name="Review",
    identity=("machine", "week", "dump", "record", "after"),
    carries=("machine", "week", "dump"),
    fits=lambda source: True,
    build=build,
    register=register,
)
