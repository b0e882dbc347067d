"""What is drawn over the lanes: the chosen occurrence, and places where the clock was set."""

from __future__ import annotations

import plotly.graph_objects as go

from dashboards.figures.theme import Palette
from dashboards.tables import Mark, Window


def add_line(drawn: go.Figure, place: float, text: str, colour: str) -> None:
    """Adds a named line across all lanes."""
    drawn.add_shape(
        type="line", x0=place, x1=place, y0=0, y1=1, yref="paper", layer="below",
        line={"color": colour, "width": 1, "dash": "dot"},
    )  # fmt: skip
    drawn.add_annotation(
        x=place, y=1, yref="paper", yanchor="bottom", text=text, showarrow=False, font={"size": 11, "color": colour}
    )


def add_mark(drawn: go.Figure, mark: Mark, window: Window, colours: Palette, *, narrow: bool) -> None:
    """The chosen occurrence: a shaded span between two lines, with its name; or where to look for it.

    The lines lie below the lanes: drawn over them they would hide a state that lasts no longer than they are wide.
    """
    start, end = mark.window
    text = {"yref": "paper", "y": 1, "yanchor": "bottom", "showarrow": False, "font": {"color": colours.chosen}}
    if end < window[0] or start > window[1]:
        earlier = end < window[0]
        drawn.add_annotation(
            text="◀ chosen occurrence is earlier" if earlier else "chosen occurrence is later ▶",
            xref="paper", x=0 if earlier else 1, xanchor="left" if earlier else "right", **text,
        )  # fmt: skip
        return
    span = {"type": "rect", "x0": start, "x1": end, "y0": 0, "y1": 1, "yref": "paper"}
    drawn.add_shape(name="chosen occurrence", fillcolor=colours.chosen_fill, line={"width": 0}, **span)
    drawn.add_shape(layer="below", line={"color": colours.chosen, "width": 1.5}, **span)
    if narrow:  # the name may be wider than the plot: it keeps to the right edge
        drawn.add_annotation(text=f"<b>{mark.label}</b>", xref="paper", x=1, xanchor="right", **text)
        return
    middle = (max(start, window[0]) + min(end, window[1])) / 2
    share = (middle - window[0]) / (window[1] - window[0])
    side = "left" if share < 0.3 else "right" if share > 0.7 else "center"
    at = {"left": max(start, window[0]), "right": min(end, window[1]), "center": middle}[side]
    drawn.add_annotation(text=f"<b>{mark.label}</b>", x=at, xanchor=side, **text)
