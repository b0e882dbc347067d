"""The rate of a pattern week by week: exact limits of each week, the band of chance, and weeks that leave it.

The shape of a point says what it is, the colour only repeats it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

import plotly.graph_objects as go
import polars as pl

from dashboards.figures._weeks import add_missing, add_recent, add_works, value_axis, week_axis
from dashboards.figures.theme import Palette, dressed
from dashboards.series import WeeklyView

HEIGHT_PX: Final = 340
SYMBOLS: Final = MappingProxyType(
    {"usual": "circle", "above": "triangle-up", "below": "triangle-down", "little": "circle-open", "apart": "x-thin"}
)
NAMES: Final = MappingProxyType(
    {
        "usual": "within the limits",
        "above": "above the limits of the chart",
        "below": "below the limits of the chart",
        "little": "too little log to show a change",
        "apart": "could not be judged as the latest week is",
    }
)


def figure(view: WeeklyView, colours: Palette) -> go.Figure:
    """The figure of a WeeklyView."""
    drawn = go.Figure()
    top = 1.12 * max(view.frame.select(pl.max_horizontal("rate", "high", "chart_high").max()).item() or 0.0, 1e-9)
    _add_band(drawn, view, colours)
    add_missing(drawn, view.weeks, view.frame["week"].to_list(), top, colours)
    for kind in SYMBOLS:
        _add_points(drawn, view, kind, colours)
    if view.mean is not None:
        _add_mean(drawn, view.mean, colours)
    add_works(drawn, view.works, top, colours)
    add_recent(drawn, view.recent, colours)
    dressed(drawn, colours, HEIGHT_PX, {"l": 62, "r": 10, "t": 26, "b": 62})
    drawn.update_layout(
        barmode="overlay",
        dragmode=False,
        xaxis=week_axis(view.weeks, colours),
        yaxis=value_axis(view.scale.unit, -0.02 * top, top, colours, 6),
    )
    return drawn


def _add_band(drawn: go.Figure, view: WeeklyView, colours: Palette) -> None:
    """What chance alone explains, given how much each week was used."""
    band = view.frame.drop_nulls(["chart_low", "chart_high"])
    if band.is_empty():
        return
    drawn.add_bar(
        x=band["at"].to_list(),
        base=band["chart_low"].to_list(),
        y=(band["chart_high"] - band["chart_low"]).to_list(),
        width=1,
        marker={"color": colours.off, "line": {"width": 0}, "opacity": 0.35},
        name="limits of the chart",
        hoverinfo="skip",
    )


def _add_points(drawn: go.Figure, view: WeeklyView, kind: str, colours: Palette) -> None:
    part = view.frame.filter((pl.col("kind") == kind) & pl.col("rate").is_not_null())
    if part.is_empty():
        return
    colour = {"above": colours.alert, "apart": colours.quiet}.get(kind, colours.on)
    line = {"width": 2 if kind in ("little", "apart") else 0, "color": colour}
    size = 11 if kind in ("above", "below") else 9
    drawn.add_scatter(
        x=part["at"].to_list(),
        y=part["rate"].to_list(),
        mode="markers",
        marker={
            "symbol": SYMBOLS[kind],
            "size": size,
            "color": colour,
            "line": line,
        },
        error_y={
            "type": "data",
            "array": (part["high"] - part["rate"]).to_list(),
            "arrayminus": (part["rate"] - part["low"]).to_list(),
            "color": colour,
            "thickness": 1.2,
            "width": 3,
        },
        name=NAMES[kind],
        customdata=part.select("week", "count", "low", "high").rows(),
        hovertemplate=f"<b>%{{customdata[0]}}</b>, {NAMES[kind]}<br>%{{customdata[1]:,}} times: %{{y:.3~g}} "
        f"{view.scale.unit}<br>(95 % limits %{{customdata[2]:.3~g}} to %{{customdata[3]:.3~g}})<extra></extra>",
    )


def _add_mean(drawn: go.Figure, mean: float, colours: Palette) -> None:
    drawn.add_shape(
        type="line", name="mean", x0=0, x1=1, xref="x domain", y0=mean, y1=mean, layer="below",
        line={"color": colours.quiet, "width": 1, "dash": "dash"},
    )  # fmt: skip
