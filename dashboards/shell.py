"""The frame around every page: navigation, colours, and which page an address shows."""

from __future__ import annotations

from typing import Any, Final

from dash import ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, set_props
from dash.exceptions import PreventUpdate

from dashboards.data import Fault, Source
from dashboards.pages import PAGES, Page
from dashboards.pages._page import ADDRESS, SCREEN, THEME, Built, Query, address, read_query
from dashboards.pages._parts import aria, heading, panel
from dashboards.shelf import ShelfError

CONTENT: Final = "content"
SHOWN: Final = "shown"
IDENTITIES: Final = "identities"
"""For each path the keys that make it another page."""
PLACE: Final = "place"
"""Path, query and screen, whenever the address names another page."""
TITLE: Final = "shown-title"
NAVIGATION: Final = "navigation"
SWITCH: Final = "theme-switch"
TROUBLE: Final = "trouble"
PRINT: Final = "print-page"
FOOT: Final = "foot"
"""Address and zone, on paper only; the browser's part fills it."""
WORKING: Final = "working"
"""What is being made in the background, in a line below the navigation."""
WORKING_TICK: Final = "working-tick"
WORKED: Final = "worked"
"""Store: whether something was being made when the page was shown, and whether the page waits for it."""
TICK_MS: Final = 1500
OF_A_LOG: Final = ("/review", "/repair", "/report")
"""Pages that show nothing without a log."""


def layout(source: Source) -> Any:
    """The frame; the page itself comes with the address."""
    return html.Div(
        [
            html.A("Skip to the page", href=f"#{CONTENT}", className="skip"),
            dcc.Location(id=ADDRESS, refresh=False),
            dcc.Store(id=THEME),
            dcc.Store(id=SHOWN),
            dcc.Store(id=TITLE),
            dcc.Store(id=WORKED),
            dcc.Interval(id=WORKING_TICK, interval=TICK_MS, disabled=True),
            dcc.Store(id=IDENTITIES, data=identities(source)),
            dcc.Store(id=PLACE),
            html.Header(
                [
                    html.Div([html.Span("eventlens", className="brand"), html.Span(source.name, className="place")]),
                    html.Nav(id=NAVIGATION, **aria(label="Pages")),
                    html.Div(
                        [
                            html.Button("Print", id=PRINT, type="button", className="quiet-button"),
                            html.Button("Dark", id=SWITCH, type="button", className="quiet-button"),
                        ],
                        className="buttons",
                    ),
                ],
                className="topbar",
            ),
            html.Div(id=WORKING, role="status", className="working"),
            html.Div(id=TROUBLE, role="alert", className="trouble"),
            html.Main(html.P("Reading …", className="waiting"), id=CONTENT, tabIndex="-1"),
            html.P(id=FOOT, className="foot"),
        ],
        className="sheet",
    )


def register(app: Dash, source: Source) -> None:
    """Ties the frame and every page to the application."""

    @app.callback(
        Output(CONTENT, "children"),
        Output(NAVIGATION, "children"),
        Output(TITLE, "data"),
        Output(SHOWN, "data"),
        Output(TROUBLE, "children"),
        Input(PLACE, "data"),
        State(SHOWN, "data"),
        prevent_initial_call=True,
    )
    def _show(place: Any, shown: Any) -> Any:
        query = {**read_query(place["search"]), SCREEN: str(place["screen"])}
        return show(source, place["pathname"], query, shown)

    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("page", "place"),
        Output(PLACE, "data"),
        Input(ADDRESS, "pathname"),
        Input(ADDRESS, "search"),
        State(IDENTITIES, "data"),
    )

    @app.callback(
        Output(WORKING, "children"),
        Output(WORKING_TICK, "disabled"),
        Output(WORKED, "data"),
        Input(WORKING_TICK, "n_intervals"),
        Input(SHOWN, "data"),
        State(WORKED, "data"),
    )
    def _working(_ticks: Any, _shown: Any, before: Any) -> Any:
        return working(source, bool(before) and ctx.triggered_id == WORKING_TICK)

    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction("page", "theme"),
        Output(THEME, "data"),
        Output(SWITCH, "children"),
        Input(SWITCH, "n_clicks"),
    )
    app.clientside_callback(ClientsideFunction("page", "arrived"), Input(TITLE, "data"))  # type: ignore[no-untyped-call]
    for page in _fitting(source):
        page.register(app, source)


def working(source: Source, before: bool) -> tuple[Any, bool, bool]:
    """What is being made, whether to ask no more, and whether the page was shown before it was there.

    before: whether it was being made when this page was shown.
    """
    stage = source.working()
    if stage is None and not before:
        return None, True, False
    said = f"Weeks are being reviewed: {stage}. " if stage else "All weeks are reviewed now. "
    show = html.Button("Show what is there now", type="button", className="reload")
    return [said, show], stage is None, True


def _fitting(source: Source) -> list[Page]:
    return [page for page in PAGES if page.fits(source)]


def identities(source: Source) -> dict[str, tuple[str, ...]]:
    """For each path the keys of an address that make it another page."""
    start = page_of(source, "/")
    return {page.path: page.identity for page in _fitting(source)} | {"/": start.identity if start else ()}


def page_of(source: Source, pathname: str | None) -> Page | None:
    """The page of a path; the start page for '/'; None where there is none."""
    path = source.start if (pathname or "/") == "/" else pathname
    return next((page for page in _fitting(source) if page.path == path), None)


def show(source: Source, pathname: str | None, query: Query, shown: str | None) -> tuple[Any, ...]:
    """Page, navigation, title, what is shown and no trouble, for an address; PreventUpdate where that is shown."""
    page = page_of(source, pathname)
    known = {key: query[key] for key in page.identity if key in query} if page else {"": str(pathname)}
    identity = address(page.path if page else "", **known)
    if identity == shown:
        raise PreventUpdate
    built = _built(source, page, query)
    return (
        built.body,
        navigation(source, page, query),
        {"title": built.title, "at": identity, "times": built.times},
        identity,
        None,
    )


def _built(source: Source, page: Page | None, query: Query) -> Built:
    """The page, or in its place what stands against it."""
    if page is None:
        return Built("No such page", _instead("There is no such page", "The address leads nowhere."))
    try:
        return page.build(source, query)
    except (Fault, ShelfError) as fault:
        if source.working() is not None:  # what the address names may still come
            return Built("Being prepared", _preparing())
        return Built("Cannot be shown", _instead("This cannot be shown", _sentence(str(fault))))


def _sentence(said: str) -> str:
    """A fault as a sentence of its own."""
    return said[0].upper() + said[1:] + ("" if said.endswith(("?", ".")) else ".")


def _instead(title: str, said: str) -> Any:
    return html.Div([heading(title), panel("Why", html.P(said), html.P(html.A("To the start page", href="/")))])


def _preparing() -> Any:
    """A page that loads itself anew until there is something to show."""
    said = "The first weeks are being reviewed. This page shows them as soon as they are there."
    return html.Div([heading("Being prepared"), panel("A moment", html.P(said, className="comes-by-itself"))])


def navigation(source: Source, page: Page | None, query: Query) -> list[Any]:
    """Links to the pages that fit, with the machine that the reader is at; none where there is one page only."""
    # without a log the only review is that of a dump that was brought in
    nothing = source.start == "/bring" and not query.get("dump")
    fitting = [one for one in _fitting(source) if not (nothing and one.path in OF_A_LOG)]
    if len(fitting) < 2:
        return []
    return [
        html.A(
            one.name,
            href=address(one.path, **{key: query.get(key) for key in one.carries}),
            **(aria(current="page") if one is page else {}),
        )
        for one in fitting
    ]


def trouble(fault: Exception) -> None:
    """Says on the page that an answer failed, and why where that is known."""
    known = isinstance(fault, Fault | ShelfError)
    set_props(TROUBLE, {"children": str(fault) if known else "The server could not answer. Load the page again."})
    raise PreventUpdate
