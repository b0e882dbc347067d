"""Machines side by side: the rate of each over its use, between limits that open towards little use."""

from __future__ import annotations

import math
from typing import Final

import plotly.graph_objects as go
import polars as pl

from dashboards.figures._weeks import value_axis
from dashboards.figures.theme import CLEAR, Palette, dressed, plain
from dashboards.series import FunnelView, Reals

HEIGHT_PX: Final = 380
_ROOM: Final = 0.2
"""Share of the chart's width that a name takes on a telephone: of machines that stand closer only one is named, unless
they lie beyond the limits. The list beside the chart names all."""


def figure(view: FunnelView, colours: Palette) -> go.Figure:
    """The figure of a FunnelView."""
    drawn = go.Figure()
    low, high, low_outer, high_outer = view.limits
    _add_between(drawn, view.use, low_outer, high_outer, "99.8 % limits", colours, 0.18)
    _add_between(drawn, view.use, low, high, "95 % limits", colours, 0.35)
    drawn.add_shape(
        type="line", name="all together", x0=0, x1=1, xref="x domain", y0=view.centre, y1=view.centre, layer="below",
        line={"color": colours.quiet, "width": 1, "dash": "dash"},
    )  # fmt: skip
    for side, symbol, colour in (
        (pl.col("beyond") > 0, "triangle-up", colours.alert),
        (pl.col("beyond") < 0, "triangle-down", colours.on),
        (pl.col("beyond") == 0, "circle", colours.on),
    ):
        _add_machines(drawn, view, view.frame.filter(side), symbol, colour)
    top = 1.12 * max(float(view.frame["rate"].max() or 0.0), float(view.frame["high_outer"].max() or 0.0))  # type: ignore[arg-type]
    dressed(drawn, colours, HEIGHT_PX, {"l": 62, "r": 16, "t": 10, "b": 52})
    drawn.update_layout(
        dragmode=False,
        xaxis={
            "range": [0, float(view.use[-1])],
            "title": {"text": f"use in the last weeks [{view.of}]", "standoff": 8, "font": {"size": 12}},
            "gridcolor": colours.rule,
            "zeroline": False,
            "fixedrange": True,
            "nticks": 6,
        },
        yaxis=value_axis(view.scale.unit, -0.05 * top, top, colours, 6),
    )
    return drawn


def _add_between(
    drawn: go.Figure, use: Reals, low: Reals, high: Reals, name: str, colours: Palette, opacity: float
) -> None:
    line = {"color": CLEAR, "width": 0}
    drawn.add_scatter(x=use, y=high, mode="lines", line=line, hoverinfo="skip", name=f"{name}, upper")
    drawn.add_scatter(
        x=use, y=low, mode="lines", line=line, fill="tonexty", fillcolor=_pale(colours.off, opacity), hoverinfo="skip",
        name=name,
    )  # fmt: skip


def _pale(colour: str, opacity: float) -> str:
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return f"rgba({red}, {green}, {blue}, {opacity})"


def _add_machines(drawn: go.Figure, view: FunnelView, part: pl.DataFrame, symbol: str, colour: str) -> None:
    if part.is_empty():
        return
    names = [plain(name) for name in part["machine"]]
    apart = _apart(part["amount"].to_list(), _ROOM * float(view.use[-1])) if symbol == "circle" else [True] * len(names)
    drawn.add_scatter(
        x=part["amount"].to_list(),
        y=part["rate"].to_list(),
        mode="markers+text",
        text=[name if shown else "" for name, shown in zip(names, apart, strict=True)],
        textposition="top center",
        textfont={"size": 11, "color": colour},
        marker={"symbol": symbol, "size": 11, "color": colour},
        cliponaxis=False,
        name=symbol,
        customdata=list(zip(names, *part.select("count", "low", "high"), strict=True)),
        hovertemplate="<b>%{customdata[0]}</b>: %{customdata[1]:,} times<br>%{y:.3~g} "
        + view.scale.unit
        + "<br>(95 % limits at this use %{customdata[2]:.3~g} to %{customdata[3]:.3~g})<extra></extra>",
    )


def _apart(places: list[float], least: float) -> list[bool]:
    """Which of the places, ascending, have room for a name after the one named before."""
    shown, last = [], -math.inf
    for place in places:
        shown.append(place - last >= least)
        last = place if shown[-1] else last
    return shown
