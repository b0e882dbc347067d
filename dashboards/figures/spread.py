"""A measured time: how the runs are spread over it, and its limit."""

from __future__ import annotations

from typing import Final

import numpy as np
import plotly.graph_objects as go

from dashboards.figures._against import add_limit, add_median, seconds_axis
from dashboards.figures.theme import Palette, dressed
from dashboards.tables import SpreadView

HEIGHT_PX: Final = 190


def figure(view: SpreadView, colours: Palette) -> go.Figure:
    """The figure of a SpreadView.

    Bins that lie wholly beyond the limit have the colour of what needs a person; one that holds it has not.
    """
    drawn = go.Figure()
    wide = view.borders[1] - view.borders[0]
    middles = view.borders[:-1] + wide / 2
    top = 1.25 * float(view.share.max(initial=0.0)) or 1.0
    hair = 1e-6 * wide  # borders are binary fractions
    whole_below = view.borders[1:] <= view.limit + hair
    wrong = whole_below if view.least else view.borders[:-1] >= view.limit - hair
    drawn.add_bar(
        x=middles,
        y=view.share,
        width=wide * 0.92,
        marker={"color": np.where(wrong, colours.alert, colours.partly), "line": {"width": 0}},
        hovertemplate="%{y:.3~g} % of the runs<br>around %{x:.3~g} s<extra></extra>",
    )
    add_median(drawn, view.median, top, view.borders, colours)
    add_limit(drawn, view.limit, view.borders, colours, least=view.least)
    dressed(drawn, colours, HEIGHT_PX, {"l": 48, "r": 10, "t": 18, "b": 42})
    drawn.update_layout(
        dragmode=False,
        bargap=0,
        xaxis=seconds_axis(view.borders, colours),
        yaxis={
            "range": [0, top],
            "title": {"text": "% of runs", "standoff": 4, "font": {"size": 11}},
            "gridcolor": colours.rule,
            "zeroline": False,
            "fixedrange": True,
            "nticks": 4,
        },
    )
    return drawn
