"""When lines came, minute by minute, and when findings became certain: silence is a gap on a line, and a minute in
which nobody followed is hatched, for nothing is known of it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Any, Final

import plotly.graph_objects as go
import polars as pl

from dashboards import words
from dashboards.figures.theme import Palette, dressed, hatch, plain, time_axis
from dashboards.following import Arrivals

HEIGHT_PX: Final = 190
SYMBOLS: Final = MappingProxyType(
    {
        "out_of_service": "square",
        "repair": "triangle-up",
        "watch": "diamond",
        "note": "circle-open",
        "withdrawn": "x-thin-open",
    }
)
"""The shape says what a finding asks for; colour only repeats it."""
_MINUTE_MS: Final = 60_000
LEAST: Final = 10
"""Lines a minute that the plot has room for at least."""
_ROOM: Final = 1.32
"""Height of the plot over its highest bar: findings stand above."""


def figure(view: Arrivals, colours: Palette) -> go.Figure:
    """The figure of Arrivals."""
    drawn = go.Figure()
    most = usual_most(view.frame)
    top = _ROOM * most
    _add_unknown(drawn, view, top, colours)
    _add_lines(drawn, view, colours)
    _add_beyond(drawn, view, most, colours)
    for level in SYMBOLS:
        _add_told(drawn, view, level, 0.9 * top, colours)
    dressed(drawn, colours, HEIGHT_PX, {"l": 48, "r": 10, "t": 8, "b": 58})
    drawn.update_layout(
        barmode="overlay",
        bargap=0,
        dragmode=False,
        xaxis=time_axis(colours, view.window, view.clock, showgrid=False, fixedrange=True, nticks=7),
        yaxis={
            "range": [0, top],
            "title": {"text": "lines a minute", "font": {"size": 11}},
            "gridcolor": colours.rule,
            "zeroline": False,
            "fixedrange": True,
            "nticks": 4,
        },
    )
    return drawn


def usual_most(frame: pl.DataFrame) -> int:
    """The most lines of a minute after one that was followed too: who begins to follow gets much at once."""
    usual = frame.filter(pl.col("lines").shift(1).is_not_null())["lines"].max()
    return max(int(usual or 0), LEAST)  # type: ignore[arg-type]


def _add_beyond(drawn: go.Figure, view: Arrivals, most: int, colours: Palette) -> None:
    """How many lines came in minutes with more than there is room for."""
    for at, lines in view.frame.filter(pl.col("lines") > _ROOM * most).iter_rows():
        drawn.add_annotation(
            x=at + _MINUTE_MS / 2, y=0.8, yref="y domain", yanchor="top", xanchor="left", xshift=4,
            text=f"↑ {lines:,}", showarrow=False, font={"size": 11, "color": colours.quiet}, bgcolor=colours.ground,
        )  # fmt: skip


def _add_unknown(drawn: go.Figure, view: Arrivals, top: float, colours: Palette) -> None:
    """Minutes that nobody followed."""
    part = view.frame.filter(pl.col("lines").is_null())
    if part.is_empty():
        return
    drawn.add_bar(
        x=(part["at"] + _MINUTE_MS / 2).to_list(),
        y=[top] * part.height,
        width=_MINUTE_MS,
        marker=hatch(colours),
        name="not followed",
        hovertemplate="not followed<br>%{x|%a %-d %b %H:%M}<extra></extra>",
    )


def _add_lines(drawn: go.Figure, view: Arrivals, colours: Palette) -> None:
    """Minutes that somebody followed: a bar where lines came, the bare line of the axis where none did."""
    part = view.frame.drop_nulls("lines")
    if part.is_empty():
        return
    middle = (part["at"] + _MINUTE_MS / 2).to_list()
    drawn.add_bar(
        x=middle,
        y=part["lines"].to_list(),
        width=0.9 * _MINUTE_MS,
        marker={"color": colours.on, "line": {"width": 0}},
        name="lines",
        hovertemplate="%{y:,} lines<br>in the minute of %{x|%a %-d %b %H:%M}<extra></extra>",
    )
    drawn.add_scatter(
        x=middle,
        y=[0] * part.height,
        mode="markers",
        marker={"symbol": "line-ew-open", "size": 5, "color": colours.partly, "line": {"width": 2}},
        name="followed",
        hoverinfo="skip",
    )


def _add_told(drawn: go.Figure, view: Arrivals, level: str, height: float, colours: Palette) -> None:
    part = view.told.filter(pl.col("level") == level)
    if part.is_empty():
        return
    needs = level in ("out_of_service", "repair")
    colour = colours.alert if needs else colours.on if level == "watch" else colours.quiet
    marker: dict[str, Any] = {"symbol": SYMBOLS[level], "size": 11, "color": colour}
    if level in ("note", "withdrawn"):
        marker["line"] = {"width": 2, "color": colour}
    drawn.add_scatter(
        x=part["at"].to_list(),
        y=[height] * part.height,
        mode="markers",
        marker=marker,
        name=words.SEVERITY.get(level, level),
        customdata=[[plain(title)] for title in part["title"]],
        hovertemplate=f"<b>%{{customdata[0]}}</b><br>{words.SEVERITY.get(level, level)}"
        "<br>%{x|%a %-d %b %H:%M:%S}<extra></extra>",
    )
