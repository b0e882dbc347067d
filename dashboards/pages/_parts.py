"""Parts that several pages share. No ids, no callbacks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from dash import dcc, html

from dashboards import words

Part = Any
"""A Dash component; the library gives its components no common type."""

CHART: Final[Any] = {"displayModeBar": False, "showTips": False, "doubleClick": "autosize", "scrollZoom": False}

EMPTY: Final[Any] = {
    "data": [],
    "layout": {
        "template": None,
        "paper_bgcolor": "rgba(0, 0, 0, 0)",
        "plot_bgcolor": "rgba(0, 0, 0, 0)",
        "xaxis": {"visible": False},
        "yaxis": {"visible": False},
    },
}
"""What a chart shows before its figure is there: nothing, not axes of nothing."""


def aria(**attributes: str) -> dict[str, Any]:
    """Attributes for assistive technology, as keyword arguments of a component."""
    return {f"aria-{name}": value for name, value in attributes.items()}


def panel(title: str, *content: Part) -> Part:
    """A section with its heading."""
    return html.Section([html.H2(title), *content], className="panel")


def heading(*title: Part, facts: Sequence[tuple[str, Part]] = ()) -> Part:
    """The heading of a page with its facts."""
    lines = [html.Div([html.Dt(name), html.Dd(text)]) for name, text in facts]
    return html.Div([html.H1(list(title)), html.Dl(lines, className="facts")], className="masthead")


def cautions(texts: Iterable[str], title: str = "Before anyone touches the machine", *, again: bool = False) -> Part:
    """What holds before anybody touches the machine; again: the same, said a second time where it is needed."""
    head = html.H2(f"{title}, once more" if again else title)
    return html.Section([head, html.Ul([html.Li(text) for text in texts])], className="panel cautions")


def chart(
    graph_id: str, reading_id: str, label: str, figure: Any = EMPTY, reading: str | None = None, **more: Any
) -> Part:
    """A chart with its sentence; a callback fills both where they are not there yet."""
    graph = dcc.Graph(id=graph_id, config=CHART, figure=figure, **more)
    return html.Figure(
        [
            html.Div(graph, role="img", className="chart", **aria(label=label)),
            html.Figcaption(reading, id=reading_id, className="reading"),
        ]
    )


def drawn(figure: Any, reading: str, label: str) -> Part:
    """A chart that never changes, with its sentence."""
    graph = dcc.Graph(figure=figure, config=CHART)
    return html.Figure(
        [
            html.Div(graph, role="img", className="chart", **aria(label=label)),
            html.Figcaption(reading, className="reading"),
        ]
    )


def table(heads: Sequence[str], body: Sequence[Part]) -> Part:
    """A small table that scrolls sideways by itself where the screen is narrow."""
    grid = html.Table([html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])), html.Tbody(body)])
    return html.Div(grid, className="scrolls", tabIndex="0", role="region", **aria(label=heads[0]))


def sign(level: str) -> Part:
    """The sign of a severity, for the eye only: the words beside it say the same."""
    return html.Span(words.SEVERITY_SIGN.get(level, "·"), className=f"sign {level}", **aria(hidden="true"))


def choose_machine(title: str, hrefs: Mapping[str, str]) -> Part:
    """What a page shows where the address names no machine."""
    links = [html.Li(html.A(name, href=href)) for name, href in hrefs.items()]
    return html.Div([heading(title), panel("Choose a machine", html.Ul(links, className="choices"))])


def choices(items: Mapping[str, str], chosen: str, hrefs: Mapping[str, str], label: str) -> Part:
    """Links of which one is where the reader is."""
    links = [
        html.Li(html.A(text, href=hrefs[key], **(aria(current="true") if key == chosen else {})))
        for key, text in items.items()
    ]
    return html.Nav(html.Ul(links, className="choices"), **aria(label=label))
