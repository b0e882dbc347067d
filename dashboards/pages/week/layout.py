"""What the page consists of, from top to bottom."""

from __future__ import annotations

from typing import Any

from dash import dcc, html, no_update

from dashboards import words
from dashboards.data import Causes, Week
from dashboards.pages._fixed import Fixed
from dashboards.pages._page import Screen
from dashboards.pages._parts import aria, cautions, chart, panel
from dashboards.pages.week import callbacks, grids, ids, parts
from dashboards.pages.week.callbacks import Occurrence
from dashboards.pages.week.state import Reopened, State, opened

Around = tuple[str | None, str | None]
"""The weeks before and after it that have a review."""


def layout(
    week: Week,
    key: dict[str, Any] | None = None,
    reopened: Reopened | None = None,
    around: Around = (None, None),
    screen: Screen | None = None,
) -> Any:
    """The whole page. key: machine and week of an archive; reopened: what the address asks for.

    screen: what the lanes are drawn for at once; None: they wait until the browser has told its width.
    """
    made = reopened["made"] if reopened else []
    state = opened(week, reopened)
    key = key or {"machine": None, "week": None}
    return html.Div(
        [
            dcc.Store(id=ids.KEY, data=key),
            dcc.Store(id=ids.STATE, data=dict(state)),
            dcc.Store(id=ids.SPAN, data=list(week.whole)),
            dcc.Store(id=ids.WIDTH, data=[screen.width, screen.density] if screen else None),
            *(dcc.Store(id=name) for name in (ids.DRAGGED, ids.PICKED, ids.ASKED, ids.SEARCHED, ids.STATED)),
            *(dcc.Store(id=name) for name in (ids.REMEMBERED, ids.LANES_DRAWN)),
            Fixed(
                parts.masthead(week.facts, key["week"], around),
                parts.further(key, week.facts.machine),
                html.Div(
                    [parts.glance(week.severities, week.motions), cautions(week.cautions)],
                    className="pair uneven",
                ),
            ),
            *_review(week, state, screen),
            dcc.Store(id=ids.MADE, data=",".join(made)),
            # on a telephone the first ones are far above what now sends somebody to the machine
            html.Div(cautions(week.cautions, again=True), className="narrow-only") if week.causes.complaints else None,
            html.Div(causes(week.after(made)), id=ids.CAUSES, className="stack", **aria(live="polite")),
            _duty(week, reopened["motion"] if reopened else None),
            panel("Kinds of work", html.Div(html.P("Counting …", className="reading"), id=ids.WORK)),
            panel("Times of contactor, brake and speed change", parts.times(week.spreads, week.facts.uncertainty)),
            Fixed(
                panel("How the runs ended", parts.endings(week.motions)),
                panel("Life", parts.life(week.life)),
                parts.written(week.history, archived=key["week"] is not None),
                panel("Not assessed", parts.not_assessed(week.findings.not_assessed())),
                panel("About this log", parts.about(week.facts)),
            ),
        ],
    )


def _review(week: Week, state: State, screen: Screen | None) -> list[Any]:
    """Findings, and the lanes with the chosen occurrence."""
    chosen, window = state["chosen"], state["window"]
    shown = callbacks.show_chosen(week, chosen, None)
    drawn: dict[str, Any] = {}
    if screen:
        figure, reading = callbacks.draw_lanes(week, (window[0], window[1]), screen, chosen)
        drawn = {"figure": figure, "reading": reading}
    # the browser measures the width that there is, and asks for other lanes where they were drawn for another
    drawn_for: dict[str, Any] = {"data-screen": f"{screen.width} {screen.density:g}"} if screen else {}
    box = html.Div(
        chart(ids.LANES, ids.LANES_READING, "Lanes of all signals over time", **drawn), id=ids.LANES_BOX, **drawn_for
    )
    return [_findings(week, shown), _lanes(_chosen(shown), box)]


def _known(**values: Any) -> dict[str, Any]:
    """Properties of a part, without those that are left as they are."""
    return {name: value for name, value in values.items() if value is not no_update}


def _findings(week: Week, shown: Occurrence) -> Any:
    rows, zone = week.findings.rows(), week.clock.zone
    said = (
        "Choose a finding to see its occurrences and where they lie in the log."
        if rows
        else "None of the patterns that this log allows to be assessed was found."
    )
    listed = () if shown.rows is no_update else shown.rows
    row = _known(selectedRows=shown.row, scrollTo=shown.scroll)
    return html.Section(
        [
            html.H2("Findings"),
            html.P(said, className="reading"),
            html.Div(
                [
                    html.Div(grids.findings(ids.FINDINGS, rows, zone, selectedRows=shown.finding), hidden=not rows),
                    html.Div(
                        grids.occurrences(ids.OCCURRENCES, listed, zone, **row), id=ids.LIST, hidden=shown.list_hidden
                    ),
                ],
                className="lists",
            ),
        ],
        className="panel",
    )


def causes(found: Causes) -> list[Any]:
    """Likely causes and the check to make next, where anything was found."""
    shown = []
    if found.complaints:
        shown.append(panel("Likely causes", parts.causes(found.complaints, found.dangers), parts.made(found.made)))
    if found.next_check:
        shown.append(panel("Next check", parts.next_check(found.next_check)))
    return [Fixed(*shown)]


def _chosen(shown: Occurrence) -> Any:
    """The chosen occurrence with its evidence, above the lanes that show it."""
    number = dcc.Input(
        id=ids.NUMBER,
        type="number",
        min=1,
        step=1,
        debounce=True,
        className="number-box",
        **_known(value=shown.number, max=shown.most),
    )
    return html.Div(
        [
            html.H3(shown.title, id=ids.CHOSEN_TITLE),
            html.Div(shown.evidence, id=ids.EVIDENCE, className="evidence", **aria(live="polite")),
            html.Div(
                [
                    _button(ids.PREVIOUS, "◀ Previous"),
                    html.Label(["Occurrence", number], htmlFor=ids.NUMBER),
                    _button(ids.NEXT, "Next ▶"),
                    _button(ids.SHOW, "Show it again"),
                ],
                className="buttons",
            ),
        ],
        id=ids.CHOSEN_PANEL,
        hidden=shown.hidden,
    )


def _button(button_id: str, text: str) -> Any:
    return html.Button(text, id=button_id, type="button")


def _lanes(chosen: Any, box: Any) -> Any:
    texts = ("Zoom in", "Zoom out", "◀ Earlier", "Later ▶", "Whole log")
    return html.Section(
        [
            html.H2("What every signal did"),
            chosen,
            html.Div(
                [
                    html.Div(
                        [_button(move, text) for move, text in zip(ids.MOVES, texts, strict=True)], className="buttons"
                    ),
                    Fixed(parts.legend()),
                ],
                className="above-chart",
            ),
            box,
        ],
        className="panel",
    )


def _duty(week: Week, motion: str | None) -> Any:
    """Both charts are drawn once the lanes are there: what is looked at first comes first."""
    names = [facts.motion for facts in week.motions]
    if not names:
        return panel("How hard it works", html.P("No motion is logged, so nothing can be counted."))
    picker = dcc.RadioItems(
        [{"label": words.GROUPS[name], "value": name} for name in names],
        motion or names[0],
        id=ids.MOTION,
        inline=True,
        className="motions-picker",
    )
    charts = (
        ("Starts per hour", "Line: starts in the hour before; bars: starts in each clock hour.", ids.STARTS_BOX),
        ("Cyclic duration", "Line: share of running time in the window before.", ids.CYCLIC_BOX),
    )
    pair = [
        html.Div([html.H3(title), html.P(how, className="how"), html.Div(id=box, className="waits")])
        for title, how, box in charts
    ]
    return html.Section(
        [
            html.H2("How hard it works"),
            html.Div(picker, role="group", hidden=len(names) == 1, **aria(label="Motion")),
            html.Div(pair, className="pair"),
            Fixed(parts.windings(week.motions)),
        ],
        className="panel",
    )
