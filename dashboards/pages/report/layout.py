"""What the page consists of: the choices, what stands in every report, and the links to the files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from dash import dcc, html, no_update

from dashboards.data.report import LANGUAGES, NONE, PAPERS, optional, standing
from dashboards.pages import _parts
from dashboards.pages._page import Query, address
from dashboards.pages.report import ids

PATH: Final = "/report"
FILE_ADDRESS: Final = "/report/file"
_KEYS: Final = ("machine", "dump", "week", "to", "sections", "language", "paper")


def choose_machine(machines: Sequence[str]) -> Any:
    """What is shown where the address names no machine."""
    choice = [html.Li(html.A(name, href=address(PATH, machine=name))) for name in machines]
    return html.Div([_parts.heading("Report"), _parts.panel("Choose a machine", html.Ul(choice, className="choices"))])


def values(query: Query, weeks: Sequence[str]) -> tuple[Any, ...]:
    """What the controls show for an address: first and last week, sections, language, paper."""
    first = query.get("week") or (weeks[-1] if weeks else None)
    sections = query.get("sections")
    names = list(optional()) if not sections else [] if sections == NONE else sections.split(",")
    return first, query.get("to") or first, names, query.get("language", "en"), query.get("paper", "a4")


def others(wanted: Sequence[Any], shown: Sequence[Any]) -> list[Any]:
    """What the controls have to show, no_update where they do: an answer that says so again would come after the next
    choice of a quick reader, and undo it."""

    def same(one: Any, other: Any) -> bool:
        return sorted(one) == sorted(other) if isinstance(one, list) and isinstance(other, list) else one == other

    return [no_update if same(one, other) else one for one, other in zip(wanted, shown, strict=True)]


def layout(machine: str, weeks: Sequence[str], query: Query) -> Any:
    """The whole page."""
    first, last, sections, language, paper = values(query, weeks)
    return html.Div(
        [
            dcc.Store(id=ids.KEY, data={"weeks": list(weeks), "sections": list(optional())}),
            _parts.heading("Report of ", html.Strong(machine)),
            _parts.panel(
                "What to hand over",
                _period(weeks, first, last),
                _group(ids.LANGUAGE, "Language", LANGUAGES, language),
                _group(ids.PAPER, "Paper of the PDF, and of the HTML when it is printed", PAPERS, paper),
            ),
            _sections(sections),
            html.Section(
                [html.H2("The report"), html.Div(links(query), id=ids.LINKS)],
                className="panel",
                **_parts.aria(live="polite"),
            ),
        ]
    )


def _period(weeks: Sequence[str], first: str | None, last: str | None) -> Any:
    boxes = [
        html.Div(
            [
                html.Label(text, htmlFor=key),
                dcc.Dropdown(list(reversed(weeks)), value, id=key, clearable=False, searchable=False),
            ],
            className="field",
        )
        for key, text, value in ((ids.FROM, "From week", first), (ids.TO, "to week", last))
    ]
    if weeks:
        said = "Several weeks are reviewed anew as one log, which takes a while. Weeks begin on Monday."
        return html.Div([html.Div(boxes, className="form"), html.P(said, className="reading")])
    return html.Div([html.P("The whole log."), html.Div(boxes, hidden=True)])


def _group(key: str, text: str, options: dict[str, str], value: str) -> Any:
    items = [{"label": label, "value": name} for name, label in options.items()]
    known = value if value in options else next(iter(options))
    return html.Div(
        [
            html.H3(text, id=f"{key}-name"),
            dcc.RadioItems(items, known, id=key, inline=True, className="motions-picker"),
        ],
        role="radiogroup",
        **_parts.aria(labelledby=f"{key}-name"),
    )


def _sections(chosen: Sequence[str]) -> Any:
    items = [{"label": title, "value": name} for name, title in optional().items()]
    return _parts.panel(
        "Sections",
        html.Div(
            dcc.Checklist(items, list(chosen), id=ids.SECTIONS, className="checklist"),
            role="group",
            **_parts.aria(label="Sections that may be left out"),
        ),
        html.P(
            f"Always in it, because they protect people or say what the report rests on: {', '.join(standing())}. "
            "The head of the report names what was left out.",
            className="reading",
        ),
    )


def links(query: Query) -> Any:
    """Where the report of an address is to be had."""
    known = {name: query.get(name) for name in _KEYS}
    page, saved, pdf = (
        address(FILE_ADDRESS, form=form, save=save, **known)
        for form, save in (("html", None), ("html", "1"), ("pdf", None))
    )
    return [
        html.Div(
            [
                html.A(
                    "Open it as a page", href=page, target="_blank", rel="noopener", className="button first-choice"
                ),
                html.A("Save the PDF", href=pdf, target="_self", download="", className="button"),
                html.A("Save the page (HTML)", href=saved, target="_self", download="", className="button"),
            ],
            className="buttons",
        ),
        html.P(
            "The page opens in a new tab. It is made on this server, one at a time, so a long period takes a while.",
            className="reading",
        ),
    ]
