"""What the page consists of, from top to bottom."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards import words
from dashboards.data import Causes, Week
from dashboards.pages._parts import aria, cautions, chart, panel
from dashboards.pages.week import grids, ids, parts

Around = tuple[str | None, str | None]
"""The weeks before and after it that have a review."""


def layout(
    week: Week, key: dict[str, Any] | None = None, reopened: dict[str, Any] | None = None, around: Around = (None, None)
) -> Any:
    """The whole page. key: machine and week of an archive; reopened: see callbacks.reopened."""
    made = (reopened or {}).get("made") or ()
    window = (reopened or {}).get("window") or list(week.whole)
    key = key or {"machine": None, "week": None}
    return html.Div(
        [
            dcc.Store(id=ids.KEY, data=key),
            dcc.Store(id=ids.REOPENED, data=reopened),
            dcc.Store(id=ids.SPAN, data=list(week.whole)),
            dcc.Store(id=ids.WIDTH),
            dcc.Store(id=ids.WINDOW, data=window),
            dcc.Store(id=ids.DRAGGED),
            dcc.Store(id=ids.PICKED),
            dcc.Store(id=ids.ASKED),
            dcc.Store(id=ids.CHOSEN),
            parts.masthead(week.facts, key["week"], around),
            parts.further(key, week.facts.machine),
            html.Div(
                [parts.glance(week.severities, week.motions), cautions(week.cautions)],
                className="pair uneven",
            ),
            _findings(week),
            _lanes(),
            dcc.Store(id=ids.MADE, data=",".join(made)),
            # on a telephone the first ones are far above what now sends somebody to the machine
            html.Div(cautions(week.cautions, again=True), className="narrow-only") if week.causes.complaints else None,
            html.Div(causes(week.after(made)), id=ids.CAUSES, className="stack", **aria(live="polite")),
            _duty(week, (reopened or {}).get("motion")),
            panel("Kinds of work", html.Div(html.P("Counting …", className="reading"), id=ids.WORK)),
            panel("Life", parts.life(week.life)),
            html.Div(
                [
                    panel("How the runs ended", parts.endings(week.motions)),
                    panel("Times of brake and speed change", parts.times(week.motions, week.facts.uncertainty)),
                ],
                className="pair",
            ),
            parts.written(week.history, archived=key["week"] is not None),
            panel("Not assessed", parts.not_assessed(week.findings.not_assessed())),
            panel("About this log", parts.about(week.facts)),
        ],
    )


def _findings(week: Week) -> Any:
    rows, zone = week.findings.rows(), week.clock.zone
    said = (
        "Choose a finding to see its occurrences and where they lie in the log."
        if rows
        else "None of the patterns that this log allows to be assessed was found."
    )
    return html.Section(
        [
            html.H2("Findings"),
            html.P(said, className="reading"),
            html.Div(
                [
                    html.Div(grids.findings(ids.FINDINGS, rows, zone), hidden=not rows),
                    html.Div(grids.occurrences(ids.OCCURRENCES, zone), id=ids.LIST, hidden=True),
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
    return shown


def _chosen() -> Any:
    """The chosen occurrence with its evidence, above the lanes that show it."""
    number = dcc.Input(id=ids.NUMBER, type="number", min=1, step=1, debounce=True, className="number-box")
    return html.Div(
        [
            html.H3("", id=ids.CHOSEN_TITLE),
            html.Div(id=ids.EVIDENCE, className="evidence", **aria(live="polite")),
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
        hidden=True,
    )


def _button(button_id: str, text: str) -> Any:
    return html.Button(text, id=button_id, type="button")


def _lanes() -> Any:
    texts = ("Zoom in", "Zoom out", "◀ Earlier", "Later ▶", "Whole log")
    return html.Section(
        [
            html.H2("What every signal did"),
            _chosen(),
            html.Div(
                [
                    html.Div(
                        [_button(move, text) for move, text in zip(ids.MOVES, texts, strict=True)], className="buttons"
                    ),
                    parts.legend(),
                ],
                className="above-chart",
            ),
            html.Div(chart(ids.LANES, ids.LANES_READING, "Lanes of all signals over time"), id="lanes-box"),
        ],
        className="panel",
    )


def _duty(week: Week, motion: str | None) -> Any:
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
    return html.Section(
        [
            html.H2("How hard it works"),
            html.Div(picker, role="group", hidden=len(names) == 1, **aria(label="Motion")),
            html.Div(
                [
                    html.Div(
                        [
                            html.H3("Starts per hour"),
                            html.P(
                                "Line: starts in the hour before; bars: starts in each clock hour.", className="how"
                            ),
                            chart(ids.STARTS, ids.STARTS_READING, "Starts per hour over the log, against the limit"),
                        ]
                    ),
                    html.Div(
                        [
                            html.H3("Cyclic duration"),
                            html.P("Line: share of running time in the window before.", className="how"),
                            chart(ids.CYCLIC, ids.CYCLIC_READING, "Cyclic duration over the log, against the limit"),
                        ]
                    ),
                ],
                className="pair",
            ),
            parts.windings(week.motions),
        ],
        className="panel",
    )
