"""The kinds of work week by week: the share of each, stacked, with its number in it.

A kind is told by its number and its place; the tone only repeats it. Weeks with few runs are drawn pale.
"""

from __future__ import annotations

from typing import Any, Final

import plotly.graph_objects as go
import polars as pl

from dashboards.figures._weeks import add_missing, add_recent, add_works, value_axis, week_axis
from dashboards.figures.theme import Palette, dressed
from dashboards.series import WorkView

HEIGHT_PX: Final = 260
PALE: Final = 0.4
NUMBERED: Final = 0.08
"""Share below which a block is too low for its number."""


def tones(colours: Palette) -> list[tuple[dict[str, Any], str]]:
    """How the blocks of the first, second, ... kind are filled, and the colour of the number in them."""
    edge = {"width": 1, "color": colours.quiet}
    dots = {"shape": ".", "size": 6, "solidity": 0.3, "fgcolor": colours.quiet, "bgcolor": colours.ground}
    return [
        ({"color": colours.on}, colours.ground),
        ({"color": colours.off}, colours.ink),
        ({"color": colours.ground, "line": edge}, colours.ink),
        ({"color": colours.partly}, colours.ground),
        ({"color": colours.ground, "line": edge, "pattern": dots}, colours.ink),
    ]


def figure(view: WorkView, colours: Palette) -> go.Figure:
    """The figure of a WorkView."""
    drawn = go.Figure()
    for kind, (marker, ink) in zip(view.kinds, tones(colours), strict=False):
        _add_kind(drawn, view, kind.number, marker, ink)
    add_missing(drawn, view.weeks, view.frame["week"].to_list(), 100.0, colours)
    add_works(drawn, view.works, 100.0, colours)
    add_recent(drawn, view.recent, colours)
    dressed(drawn, colours, HEIGHT_PX, {"l": 54, "r": 8, "t": 26, "b": 58})
    drawn.update_layout(
        barmode="stack",
        dragmode=False,
        uniformtext={"minsize": 8, "mode": "show"},
        xaxis=week_axis(view.weeks, colours),
        yaxis=value_axis("share [%]", 0, 100, colours, 5),
    )
    return drawn


def _add_kind(drawn: go.Figure, view: WorkView, number: int, marker: dict[str, Any], ink: str) -> None:
    part = view.frame.filter(pl.col("kind") == number)
    drawn.add_bar(
        x=part["at"].to_list(),
        y=[100 * share for share in part["share"]],
        width=0.8,
        marker={**marker, "opacity": [PALE if few else 1.0 for few in part["few"]]},
        name=f"kind {number}",
        text=[str(number) if share >= NUMBERED else "" for share in part["share"]],
        textposition="inside",
        insidetextanchor="middle",
        textangle=0,
        textfont={"color": ink, "size": 11},
        customdata=[
            (week, count, whole, 100 * low, 100 * high, ", few: not judged" if few else "")
            for week, count, whole, low, high, few in part.select(
                "week", "count", "whole", "low", "high", "few"
            ).iter_rows()
        ],
        hovertemplate=f"<b>%{{customdata[0]}}</b>, kind {number}: %{{y:.0f}} %<br>%{{customdata[1]:,}} of "
        "%{customdata[2]:,} (95 % limits %{customdata[3]:.0f} to %{customdata[4]:.0f} %)%{customdata[5]}"
        "<extra></extra>",
    )
