"""What the two duty figures share: a sliding curve over the whole log, its limit, and the time without a log."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboards.bins import Reals
from dashboards.figures.theme import Palette, dressed, hatch, time_axis
from dashboards.tables import DutyView

HEIGHT_PX = 280


def sliding(drawn: go.Figure, view: DutyView, colours: Palette, *, name: str, scale: float, unit: str) -> go.Figure:
    """Adds curve, limit and holes; values are shown times `scale`, with `unit`."""
    value = view.value * scale
    limit = view.limit * scale if view.limit is not None else None
    top = 1.18 * max(float(value.max(initial=0)), limit or 0, 1.0, float(view.hours["count"].max() or 0))  # type: ignore[arg-type]
    _add_curve(drawn, view, value, colours.on, name, unit)
    if limit is not None:
        above = np.where(value > limit, value, np.nan)
        if np.isfinite(above).any():
            _add_curve(drawn, view, above, colours.alert, "above the limit", unit, width=3.5)
        _add_limit(drawn, limit, f"limit {limit:,.4g}{unit}", colours)
    if view.holes:
        _add_holes(drawn, view, top, colours)
    dressed(drawn, colours, HEIGHT_PX, {"l": 52, "r": 14, "t": 12, "b": 62})
    drawn.update_layout(
        barmode="overlay",
        xaxis=time_axis(colours, view.span, view.clock, showgrid=False),
        yaxis={"range": [0, top], "gridcolor": colours.rule, "zeroline": False, "fixedrange": True, "nticks": 6},
    )
    return drawn


def _add_curve(
    drawn: go.Figure, view: DutyView, value: Reals, colour: str, name: str, unit: str, width: float = 1.6
) -> None:
    drawn.add_scatter(
        x=view.at,
        y=value,
        mode="lines",
        line={"color": colour, "width": width, "shape": "hv"},
        name=name,
        hovertemplate=f"{name}: %{{y:,.4~g}}{unit}<br>%{{x|%a %-d %b %H:%M}}<extra></extra>",
    )


def _add_limit(drawn: go.Figure, limit: float, text: str, colours: Palette) -> None:
    drawn.add_shape(
        type="line", name="limit", x0=0, x1=1, xref="x domain", y0=limit, y1=limit,
        line={"color": colours.ink, "width": 1.2, "dash": "dash"},
    )  # fmt: skip
    drawn.add_annotation(
        x=1,
        xref="x domain",
        xanchor="right",
        y=limit,
        yanchor="bottom",
        text=text,
        showarrow=False,
        bgcolor=colours.ground,
    )


def _add_holes(drawn: go.Figure, view: DutyView, top: float, colours: Palette) -> None:
    start, end = (np.array(side) for side in zip(*view.holes, strict=True))
    drawn.add_bar(
        x=(start + end) / 2,
        width=end - start,
        y=np.full(len(start), top),
        marker=hatch(colours),
        name="no log",
        hovertemplate="no log<extra></extra>",
    )
