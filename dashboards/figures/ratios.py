"""Rates after a repair over those before, with their exact limits, on a scale on which half and double weigh alike."""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType
from typing import Any, Final

import plotly.graph_objects as go

from dashboards.figures.theme import Palette, dressed, plain
from dashboards.repairs import Rated

LEAST: Final = 0.01
"""Begin of the scale: what lies beyond is drawn at its edge."""
MOST: Final = 100.0
ROW_PX: Final = 34
SYMBOL: Final = MappingProxyType(
    {"worse": "triangle-up", "gone": "triangle-down", "less": "triangle-down-open", "not_shown": "circle-open"}
)
SIGN: Final = MappingProxyType({"worse": "▲", "gone": "▼", "less": "▽", "not_shown": "○"})
"""The same in a text."""
_TICKS: Final = MappingProxyType({0.01: "1/100", 0.1: "1/10", 0.5: "½", 1.0: "as before", 2.0: "2 ×", 10.0: "10 ×"})
NAMED: Final = 26
"""Characters of a name that stand beside the chart; the list below it has the whole of it."""


def figure(rated: Sequence[Rated], colours: Palette) -> go.Figure:
    """The figure of the patterns that have been compared, in their order from the top."""
    drawn = go.Figure()
    rows = [one for one in rated if one.low is not None]
    places = [float(len(rows) - 1 - n) for n in range(len(rows))]
    for one, place in zip(rows, places, strict=True):
        _add(drawn, one, place, colours)
    drawn.add_shape(
        type="line", name="as before", x0=1, x1=1, y0=-0.6, y1=len(rows) - 0.4, layer="below",
        line={"color": colours.ink, "width": 1.2, "dash": "dash"},
    )  # fmt: skip
    dressed(drawn, colours, ROW_PX * max(len(rows), 1) + 66, {"l": 8, "r": 14, "t": 8, "b": 56})
    drawn.update_layout(dragmode=False, xaxis=_axis(colours), yaxis=_names(rows, places, colours))
    return drawn


def _axis(colours: Palette) -> dict[str, Any]:
    return {
        "type": "log",
        "range": [-2.15, 2.15],
        "tickvals": list(_TICKS),
        "ticktext": list(_TICKS.values()),
        "title": {"text": "rate after over rate before", "standoff": 8, "font": {"size": 12}},
        "gridcolor": colours.rule,
        "zeroline": False,
        "fixedrange": True,
        "tickangle": 0,
    }


def _names(rows: Sequence[Rated], places: list[float], colours: Palette) -> dict[str, Any]:
    short = [one.name if len(one.name) <= NAMED else f"{one.name[: NAMED - 1]}…" for one in rows]
    return {
        "range": [-0.6, len(rows) - 0.4],
        "tickvals": places,
        "ticktext": [plain(name) for name in short],
        "automargin": True,
        "gridcolor": colours.rule,
        "zeroline": False,
        "fixedrange": True,
    }


def _add(drawn: go.Figure, one: Rated, place: float, colours: Palette) -> None:
    """The interval as a line, open where it has no end within the scale, and the ratio as a sign on it."""
    colour = colours.alert if one.verdict == "worse" else colours.on
    low, high = _within(one.low or LEAST), _within(MOST if one.high is None else one.high)
    drawn.add_scatter(
        x=[low, high],
        y=[place, place],
        mode="lines",
        line={"color": colour, "width": 2.5},
        name="limits",
        hoverinfo="skip",
    )
    for end, open_, symbol in (
        (low, (one.low or 0) < LEAST, "arrow-left"),
        (high, one.high is None or one.high > MOST, "arrow-right"),
    ):
        symbol_, size = (symbol, 9) if open_ else ("line-ns-open", 10)
        drawn.add_scatter(
            x=[end],
            y=[place],
            mode="markers",
            marker={"symbol": symbol_, "size": size, "color": colour, "line": {"color": colour, "width": 2}},
            name="open end" if open_ else "end",
            hoverinfo="skip",
        )
    at = _within(one.value) if one.value is not None else high
    drawn.add_scatter(
        x=[at],
        y=[place],
        mode="markers",
        marker={"symbol": SYMBOL[one.verdict], "size": 13, "color": colour, "line": {"color": colour, "width": 2}},
        name=one.verdict,
        hovertemplate=f"<b>{plain(one.name)}</b><br>{plain(one.ratio)}<br>{plain(one.before)} before<br>"
        f"{plain(one.after)} after<extra></extra>",
    )


def _within(value: float) -> float:
    return min(max(value, LEAST), MOST)
