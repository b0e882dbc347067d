"""The comparison as the page shows it: the answer, rates, measured times, exchanged parts, and what limits all that."""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType
from typing import Any, Final

from dash import dcc, html

from dashboards import words
from dashboards.data.repair import Compared, Subject
from dashboards.figures.ratios import SIGN
from dashboards.pages import _parts
from dashboards.pages._page import address
from dashboards.pages.repair import ids
from dashboards.repairs import Rated, TimesView, Told

WORD: Final = MappingProxyType({"worse": "worse", "gone": "gone", "less": "less", "not_shown": "no change shown"})
LEVEL: Final = MappingProxyType({"worse": "repair"})
"""How a verdict is drawn where it needs a person."""
MEANING: Final = MappingProxyType(
    {
        "worse": "seen after, at a higher rate than chance explains",
        "gone": "nothing after, for longer than the fault could have stayed away by chance",
        "less": "seen after, at a lower rate than chance explains",
        "not_shown": "chance alone may explain the difference, or there has been too little use since",
    }
)


def working(stage: str) -> Any:
    """While the comparison is being made."""
    return _parts.panel("What has changed", html.P(f"Comparing: {stage} …", role="status"))


def stopped() -> Any:
    """After the reader has stopped it."""
    return _parts.panel("What has changed", html.P("The comparison was stopped.", role="status"))


def fault(sentence: str) -> Any:
    """Why there is no answer."""
    said = f"{sentence[0].upper()}{sentence[1:]}".rstrip(".")
    return html.P(f"{said}.", className="fault", role="alert")


def result(about: Subject, found: Compared) -> Any:
    """The whole answer."""
    return html.Div(
        [
            html.Div(
                [
                    html.Div([_answer(found), _others(about, found)], className="stack"),
                    _parts.cautions(found.cautions, "Before anybody calls it repaired, or touches it"),
                ],
                className="pair uneven",
            ),
            _rates(about, found),
            _times(found),
            _not_compared(found),
            _parts.panel("What limits this answer", html.Ul([html.Li(_sentence(note)) for note in found.notes]))
            if found.notes
            else None,
        ],
        className="stack",
    )


def _sentence(note: str) -> str:
    return f"{note[0].upper()}{note[1:]}".replace(" (choose with --repair)", "")


def _answer(found: Compared) -> Any:
    return _parts.panel(
        "What has changed",
        html.P(found.answer, className="answer"),
        html.Dl(
            [
                html.Div([html.Dt(name), html.Dd(text)], className="fact")
                for name, text in zip(("Before", "After"), found.sides, strict=True)
            ],
            className="facts lines",
        ),
        html.P(found.compared, className="reading"),
    )


def _others(about: Subject, found: Compared) -> Any:
    """Warns of other work within the compared time."""
    others = about.others(found)
    if not others:
        return None
    items = [
        html.Li([html.A(f"{work.at}, {work.text}", href=address("/repair", machine=about.machine, repair=work.key))])
        if work.usable
        else html.Li(f"{work.at}, {work.text}")
        for work in others
    ]
    return html.Section(
        [
            html.H2("Other work within the compared time"),
            html.P(
                "What has changed may be due to that as well. A comparison of work that is written down reaches only "
                "to the work before and after it:"
            ),
            html.Ul(items),
        ],
        className="panel cautions",
    )


def _rates(about: Subject, found: Compared) -> Any:
    title = "How often each pattern came, for its use"
    if not found.rated:
        return _parts.panel(title, html.P("None of the patterns that both sides can show was found on either side."))
    body = [_row(about, one) for one in found.rated]
    legend = [
        html.Li([html.Span(SIGN[name], className=f"point {LEVEL.get(name, '')}"), f"{WORD[name]}: {MEANING[name]}"])
        for name in WORD
        if any(one.verdict == name for one in found.rated)
    ]
    return _parts.panel(
        title,
        html.Ul(legend, className="legend", **_parts.aria(label="What the words mean")),
        html.Div(id=ids.RATIOS),
        _parts.table(
            ["Pattern", "Since then", "Before", "After", "Rate after over before (95 % limits)", "Still to watch"], body
        ),
    )


def _row(about: Subject, one: Rated) -> Any:
    href = address("/weeks", machine=about.machine, pattern=one.series)
    name: Any = html.A(one.name, href=href) if about.archived else one.name
    verdict: list[Any] = [
        html.Span(SIGN[one.verdict], className="sign", **_parts.aria(hidden="true")),
        WORD[one.verdict],
    ]
    asks = html.Span(f"asks for: {words.asked(one.severity)}", className="how")
    return html.Tr(
        [
            html.Th([name, html.Br(), asks], scope="row"),
            html.Td(verdict, className=f"verdict {LEVEL.get(one.verdict, '')}"),
            html.Td(one.before, className="number"),
            html.Td(one.after, className="number"),
            html.Td(one.ratio, className="number"),
            html.Td(one.outlook or "–"),
        ]
    )


def ratios_reading(rated: Sequence[Rated]) -> str:
    """One sentence under the chart of rates."""
    sure = [one for one in rated if one.verdict != "not_shown"]
    across = words.counted(len(rated) - len(sure), "pattern")
    if not sure:
        return f"Of {across} none shows a change; a line that crosses 'as before' is explained by chance alone."
    clear = words.counted(len(sure), "pattern lies", "patterns lie")
    return (
        f"{clear} so clearly beside 'as before' that chance does not explain it; for {across} no change is shown. An "
        "arrow goes on beyond the scale."
    )


def _times(found: Compared) -> Any:
    title = "Times of contactor, brake and speed change"
    if not found.times:
        return _parts.panel(title, html.P("No such time is measured on both sides, so none can be compared."))
    return _parts.panel(
        title,
        html.P("How the runs of each side are spread; the dashed line is the limit.", className="reading"),
        dcc.Loading(html.Div(id=ids.TIMES, className="multiples"), type="dot", color="var(--partly)"),
        html.Details([html.Summary("The numbers of these charts"), _time_table(found.times)]),
    )


def time(view: TimesView, figure: Any) -> Any:
    """One measured time with its chart and sentence."""
    return html.Div(
        [html.H3(view.title), _parts.drawn(figure, view.reading, f"{view.title}, before and after, against its limit")]
    )


def _time_table(views: Sequence[TimesView]) -> Any:
    body = []
    for view in views:
        for n, side in enumerate(("before", "after")):
            cells = [
                f"{view.counts[n]:,}",
                f"{view.medians[n]:.3f}",
                f"{view.high[n]:.3f}",
                f"{view.beyond[n]:,}",
                view.moved if n else "",
                view.drifts[n] or "none shown",
            ]
            body.append(
                html.Tr(
                    [
                        html.Th(f"{view.title}, {side}", scope="row"),
                        *(html.Td(cell, className="number") for cell in cells),
                    ]
                )
            )
        way = "at least" if view.least else "at most"
        body.append(
            html.Tr([html.Th(f"its limit: {way} {view.limit:.3g} s ({view.limit_name})", scope="row", colSpan=7)])
        )
    heads = ["Time", "Runs", "Median [s]", "95 % below [s]", "Beyond the limit", "Moved by (95 % limits)", "Drift"]
    return _parts.table(heads, body)


def _not_compared(found: Compared) -> Any:
    if not found.not_compared:
        return None
    body = [
        html.Tr([html.Th(name, scope="row"), html.Td(why), html.Td(seen)]) for name, why, seen in found.not_compared
    ]
    return _parts.panel(
        "Could not be compared",
        html.P("That is not the same as gone.", className="reading"),
        _parts.table(["Pattern", "Which side cannot tell, and why", "Seen on the other side"], body),
    )


def moved(told: Sequence[Told], first: str, second: str) -> Any:
    """Whether faults went with the part."""
    if not told:
        return html.P(f"No fault of a part was seen at {first} or {second} before: nothing could have moved.")
    body = [
        html.Tr(
            [
                html.Th(one.name, scope="row"),
                html.Td(one.verdict + (f": {one.why}" if one.why else "")),
                *(html.Td(text, className="number") for text in (*one.first, *one.second)),
            ]
        )
        for one in told
    ]
    heads = ["Fault", "What the counts say", *(f"{place}, {side}" for place in (first, second) for side in _SIDES)]
    return _parts.table(heads, body)


_SIDES: Final = ("before", "after")
