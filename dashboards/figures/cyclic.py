"""Cyclic duration of one motion: running time as a share of any sliding window, the limit as a dashed line."""

from __future__ import annotations

import plotly.graph_objects as go

from dashboards import words
from dashboards.figures._sliding import sliding
from dashboards.figures.theme import Palette
from dashboards.tables import DutyView


def figure(view: DutyView, colours: Palette) -> go.Figure:
    """The figure of DutyView; shares are shown in percent."""
    name = f"running in the {words.length(view.window_s)} before"
    drawn = sliding(go.Figure(), view, colours, name=name, scale=100, unit=" %")
    drawn.update_yaxes(ticksuffix=" %")
    return drawn
