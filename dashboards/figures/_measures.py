"""Measured signals below the lanes, each in a strip of its own on the same time axis."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import plotly.graph_objects as go

from dashboards import words
from dashboards.figures.theme import Palette
from dashboards.tables import LanesView, Measure

_PLOT_PX: Final = 84
STRIP_PX: Final = _PLOT_PX + 30
"""Height of a strip with the air above it [px]."""


def add_measures(drawn: go.Figure, view: LanesView, colours: Palette) -> None:
    """Adds a line for each measured signal, on the axis that `axes` gives it."""
    for n, measure in enumerate(view.measures):
        _add_measure(drawn, view, measure, f"y{n + 2}", colours)


def axes(view: LanesView, colours: Palette, plot_px: int, lanes_px: int) -> dict[str, Any]:
    """The axis of each measured signal in a plot of plot_px, of which the lanes take lanes_px."""
    found: dict[str, Any] = {}
    for n, measure in enumerate(view.measures):
        bottom = plot_px - lanes_px - (n + 1) * STRIP_PX
        found[f"yaxis{n + 2}"] = {
            "domain": [bottom / plot_px, (bottom + _PLOT_PX) / plot_px],
            "title": {"text": measure.name.replace(" [", "<br>["), "font": {"size": 11}},
            "nticks": 4,
            "rangemode": "tozero",
            "ticklabeloverflow": "allow",
            "fixedrange": True,
            "gridcolor": colours.rule,
            "zeroline": False,
            "anchor": "x",
        }
    return found


def _add_measure(drawn: go.Figure, view: LanesView, measure: Measure, axis: str, colours: Palette) -> None:
    """A measured signal as a line through its least and largest value in each bin, broken where it is not known."""
    start, end = view.window
    at = start + (end - start) * np.arange(view.bins) / view.bins
    drawn.add_scatter(
        x=np.repeat(at, 2),
        y=np.column_stack((measure.low, measure.high)).ravel(),
        mode="lines",
        line={"color": colours.on, "width": 1.2, "shape": "hv"},
        yaxis=axis,
        name=measure.name,
        hovertemplate=f"{measure.name}: %{{y:,.4~g}}<br>%{{x|%a %H:%M:%S}}<extra></extra>",
    )
    if measure.rated is not None:
        drawn.add_shape(
            type="line", x0=0, x1=1, y0=measure.rated, y1=measure.rated, yref=axis, xref="x domain",
            line={"color": colours.quiet, "width": 1, "dash": "dash"},
        )  # fmt: skip
        drawn.add_annotation(
            x=1, y=measure.rated, xref="x domain", yref=axis, xanchor="right", yanchor="bottom", showarrow=False,
            text=f"rated {words.number(measure.rated)}", bgcolor=colours.ground,
            font={"size": 11, "color": colours.quiet},
        )  # fmt: skip
