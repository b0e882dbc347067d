"""A measured time over the weeks: the median of each, and the line or the two levels that describe a drift."""

from __future__ import annotations

from typing import Final

import plotly.graph_objects as go

from dashboards.figures._weeks import add_missing, add_works, value_axis, week_axis
from dashboards.figures.theme import Palette, dressed
from dashboards.series import TimeView

HEIGHT_PX: Final = 230


def figure(view: TimeView, colours: Palette) -> go.Figure:
    """The figure of a TimeView."""
    drawn = go.Figure()
    medians = view.frame["median"].to_list()
    top = 1.25 * max([*medians, *(end for line in view.level for end in line[1::2]), 1e-3])
    add_missing(drawn, view.weeks, view.frame["week"].to_list(), top, colours)
    add_works(drawn, view.works, top, colours)
    drawn.add_scatter(
        x=view.frame["at"].to_list(),
        y=medians,
        mode="markers",
        marker={"size": 7, "color": colours.on},
        name="median of the week",
        customdata=view.frame.select("week", "n", "step").rows(),
        hovertemplate="<b>%{customdata[0]}</b>: median %{y:.3f} s of %{customdata[1]:,} runs<br>log step "
        "%{customdata[2]:.3~g} s<extra></extra>",
    )
    colour = colours.alert if view.needs else colours.ink
    for x0, y0, x1, y1 in view.level:
        drawn.add_shape(
            type="line", name="drift", x0=x0 - 0.4, x1=x1 + 0.4, y0=y0, y1=y1, line={"color": colour, "width": 2}
        )
    dressed(drawn, colours, HEIGHT_PX, {"l": 54, "r": 8, "t": 8, "b": 58})
    drawn.update_layout(
        barmode="overlay",
        dragmode=False,
        xaxis=week_axis(view.weeks, colours),
        yaxis=value_axis("median [s]", 0, top, colours, 5),
    )
    return drawn
