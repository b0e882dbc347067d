"""What the page consists of before the comparison is there: which work it is about, and what else can be chosen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dash import dcc, html

from dashboards.data.repair import Asked, Subject
from dashboards.pages import _parts
from dashboards.pages._page import Query, address
from dashboards.pages.repair import ids
from dashboards.repairs import Written

PATH: Final = "/repair"
TICK_MS: Final = 700


def choose_machine(machines: Sequence[str]) -> Any:
    """What is shown where the address names no machine."""
    links = [html.Li(html.A(name, href=address(PATH, machine=name))) for name in machines]
    return html.Div(
        [_parts.heading("After a repair"), _parts.panel("Choose a machine", html.Ul(links, className="choices"))]
    )


def layout(about: Subject, query: Query) -> Any:
    """The whole page of a machine."""
    asked = Asked(query.get("repair", ""), query.get("at", ""), query.get("until", ""))
    chosen = about.chosen(asked)
    key = {name: query.get(name) for name in ("machine", "dump", "repair", "at", "until")}
    return html.Div(
        [
            dcc.Store(id=ids.KEY, data={**key, "machine": about.machine if about.archived else key["machine"]}),
            dcc.Store(id=ids.SHOWN),
            dcc.Interval(id=ids.TICK, interval=TICK_MS, disabled=chosen is None),
            _masthead(about, chosen),
            html.Div(
                [
                    html.Div(_waiting(about, chosen), id=ids.RESULT, **_parts.aria(live="polite")),
                    html.Div(
                        [
                            html.Button("Stop", id=ids.STOP, type="button", hidden=chosen is None),
                            html.Button("Compare again", id=ids.AGAIN, type="button", hidden=True),
                        ],
                        className="buttons below",
                    ),
                ]
            ),
            _exchange(),
            _which(about, query, chosen),
        ]
    )


def _masthead(about: Subject, chosen: Asked | None) -> Any:
    facts = [("Log", f"{about.span[0]} to {about.span[1]}"), ("Times", about.zone)]
    if chosen:
        facts.insert(0, ("The work", work_of(about, chosen)))
    return _parts.heading("After a repair of ", html.Strong(about.machine), facts=facts)


def work_of(about: Subject, chosen: Asked) -> str:
    """The work in words: what was written down, or the time that was typed."""
    written = next((work for work in about.works if work.key == chosen.repair), None)
    if written is not None:
        return f"{written.at}, {written.text}"
    at = chosen.at or chosen.repair
    return f"{at} to {chosen.until}" if chosen.until else at


def _waiting(about: Subject, chosen: Asked | None) -> Any:
    if chosen:
        return _parts.panel("What has changed", html.P("Comparing …", role="status"))
    if not about.archived:
        return _parts.panel(
            "When was the work done?",
            html.P(
                "Type below when the work on the machine began: the log before it is held against the log after it."
            ),
        )
    return _parts.panel("No repair to compare", html.P(_none(about.works)), _how_to_write(about.machine))


def _none(works: Sequence[Written]) -> str:
    if not works:
        return "No repair and no exchanged part of this machine is written down in the archive: type a time below."
    return "Work is written down, but none of it has log on both sides. Add the dumps around it, or type a time below."


def _how_to_write(machine: str) -> Any:
    said = "Whoever keeps the archive writes work down with a command, then it stands here by itself:"
    command = f"eventlens archive add ARCHIVE --machine {machine} --repair '2026-04-20T06:00 brake adjusted'"
    more = "A part that was exchanged goes in with --exchanged, as '2026-04-14T10:00 relay of raise'."
    return html.Div([html.P(said), html.Pre(html.Code(command), className="command", tabIndex="0"), html.P(more)])


def _which(about: Subject, query: Query, chosen: Asked | None) -> Any:
    """The work that is written down, of which another piece can be chosen, and a time of one's own."""
    return _parts.panel(
        "Another repair, or another time" if chosen else "When the work was done",
        _written(about, query, chosen) if about.works else None,
        html.Div(
            [
                _field(ids.AT, "When the work began", query.get("at", ""), about.span[0]),
                _field(ids.UNTIL, "When it ended, if that is known", query.get("until", ""), ""),
            ],
            className="form",
        ),
        html.P(
            f"As 2026-04-20 06:00, between {about.span[0]} and {about.span[1]} ({about.zone}). What lies between "
            "beginning and end is on neither side."
            + (" All of the log is read for that, which takes a while." * about.archived),
            className="reading",
        ),
        html.Div(html.Button("Compare", id=ids.ASK, type="button", className="first-choice"), className="buttons"),
    )


def _field(key: str, text: str, value: str, least: str) -> Any:
    box = dcc.Input(id=key, type="text", value=value, maxLength=40, placeholder=least, className="text-box")
    return html.Div([html.Label(text, htmlFor=key), box], className="field")


def _written(about: Subject, query: Query, chosen: Asked | None) -> Any:
    body = []
    for work in about.works:
        here = chosen is not None and not chosen.at and work.key == chosen.repair
        if work.usable:
            href = address(PATH, machine=about.machine, dump=query.get("dump"), repair=work.key)
            name: Any = html.A(work.at, href=href, **(_parts.aria(current="true") if here else {}))
        else:
            name = work.at
        state = "shown above" if here else "" if work.usable else "no log on both sides"
        body.append(html.Tr([html.Th(name, scope="row"), html.Td(work.text), html.Td(state)]))
    return _parts.table([f"When ({about.zone})", "What was written down", "Here"], body)


def _exchange() -> Any:
    """Two places between which a part changed: filled once the comparison is there."""
    boxes = [
        html.Div(
            [html.Label(text, htmlFor=key), dcc.Dropdown([], None, id=key, placeholder="none", searchable=False)],
            className="field",
        )
        for key, text in ((ids.FIRST, "A part of"), (ids.SECOND, "was exchanged with that of"))
    ]
    return html.Section(
        [
            html.H2("Did parts change places?"),
            html.P(
                "Where two like parts were exchanged, as the relays of raise and lower, the counts say whether the "
                "fault went with the part.",
                className="reading",
            ),
            html.Div(boxes, className="form"),
            html.Div(id=ids.MOVED, **_parts.aria(live="polite")),
        ],
        id=ids.EXCHANGE,
        className="panel",
        hidden=True,
    )
