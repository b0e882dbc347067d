"""What charts of measured times have in common: the median, and the limit."""

from __future__ import annotations

import plotly.graph_objects as go

from dashboards.bins import Reals
from dashboards.figures.theme import Palette


def add_median(
    drawn: go.Figure,
    median: float,
    top: float,
    borders: Reals,
    colours: Palette,
    *,
    axis: str = "y",
    name: str = "median",
) -> None:
    """Adds a line at the median [s] of one side, up to `top` of its axis, with its number."""
    drawn.add_shape(
        type="line", name=name, x0=median, x1=median, y0=0, y1=top, yref=axis,
        line={"color": colours.ink, "width": 2},
    )  # fmt: skip
    left = median < borders[-1] / 2
    drawn.add_annotation(
        x=median, y=top, yref=axis, yanchor="top", showarrow=False, bgcolor=colours.ground,
        xanchor="left" if left else "right", xshift=5 if left else -5,
        text=f"median {median:.3g} s", font={"size": 11},
    )  # fmt: skip


def add_limit(drawn: go.Figure, limit: float, borders: Reals, colours: Palette, *, least: bool) -> None:
    """Adds a dashed line at the limit [s]. least: times should be longer than it."""
    drawn.add_shape(
        type="line", name="limit", x0=limit, x1=limit, y0=0, y1=1, yref="paper",
        line={"color": colours.alert, "width": 1.5, "dash": "dash"},
    )  # fmt: skip
    way = "at least" if least else "at most"
    drawn.add_annotation(
        x=limit, y=1, yref="paper", yanchor="bottom", showarrow=False, text=f"limit: {way} {limit:.3g} s",
        xanchor="right" if limit > borders[-1] / 2 else "left", font={"size": 11},
    )  # fmt: skip


def seconds_axis(borders: Reals, colours: Palette) -> dict[str, object]:
    """The axis of times [s] below bins."""
    return {
        "range": [float(borders[0]), float(borders[-1])],
        "title": {"text": "time [s]", "standoff": 6, "font": {"size": 12}},
        "gridcolor": colours.rule,
        "zeroline": False,
        "fixedrange": True,
        "nticks": 7,
    }
