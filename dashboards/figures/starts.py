"""Starts per hour of one motion: any sliding hour as a curve, each clock hour as a bar, the limit as a dashed line."""

from __future__ import annotations

from typing import Final

import numpy as np
import plotly.graph_objects as go

from dashboards.figures._sliding import sliding
from dashboards.figures.theme import Palette
from dashboards.tables import DutyView

_HOUR_MS: Final = 3_600_000


def figure(view: DutyView, colours: Palette) -> go.Figure:
    """The figure of DutyView with its clock hours."""
    drawn = go.Figure()
    drawn.add_bar(
        x=view.hours["at"].to_numpy() + _HOUR_MS / 2,
        y=view.hours["count"].to_numpy(),
        width=np.full(view.hours.height, _HOUR_MS * 0.92),
        marker={"color": colours.off, "line": {"width": 0}},
        name="clock hour",
        customdata=view.hours["at"].to_numpy(),
        hovertemplate="%{y} starts in the clock hour<br>around %{x|%a %-d %b %H:%M}<extra></extra>",
    )
    return sliding(drawn, view, colours, name="starts in the hour before", scale=1, unit="")
