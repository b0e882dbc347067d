"""What the figures over weeks share: the axis of weeks, weeks without a log, and the last weeks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import plotly.graph_objects as go

from dashboards.figures.theme import Palette, hatch, plain
from dashboards.series import Work

_LABELS: Final = 8
"""Labels that fit under a narrow chart."""


def week_axis(weeks: Sequence[str], colours: Palette) -> dict[str, Any]:
    """The axis of weeks: number of the week, and the year where it begins."""
    step = math.ceil(len(weeks) / _LABELS)
    shown = list(range(0, len(weeks), step))
    texts, year = [], ""
    for at in shown:
        own, number = weeks[at].split("-")
        texts.append(number if own == year else f"{number}<br>{own}")
        year = own
    return {
        "range": [-0.6, len(weeks) - 0.4],
        "tickvals": shown,
        "ticktext": texts,
        "title": {"text": "ISO week", "standoff": 6, "font": {"size": 12}},
        "showgrid": False,
        "zeroline": False,
        "fixedrange": True,
        "linecolor": colours.rule,
        "ticks": "outside",
        "tickcolor": colours.rule,
        "tickangle": 0,
    }


def value_axis(title: str, low: float, top: float, colours: Palette, ticks: int) -> dict[str, Any]:
    """The axis of what was measured, from low to top; title: with its unit; ticks: about so many."""
    return {
        "range": [low, top],
        "title": {"text": title, "standoff": 6, "font": {"size": 12}},
        "gridcolor": colours.rule,
        "zeroline": False,
        "fixedrange": True,
        "nticks": ticks,
    }


def add_missing(drawn: go.Figure, weeks: Sequence[str], known: Sequence[str], top: float, colours: Palette) -> None:
    """Hatches the weeks of which there is no log."""
    there = set(known)
    gone = [at for at, week in enumerate(weeks) if week not in there]
    if gone:
        drawn.add_bar(
            x=gone, y=[top] * len(gone), width=0.9, marker=hatch(colours), name="no log",
            customdata=[weeks[at] for at in gone], hovertemplate="%{customdata}: no log<extra></extra>",
        )  # fmt: skip


def add_works(drawn: go.Figure, works: Sequence[Work], top: float, colours: Palette) -> None:
    """Marks work on the machine that was written down: a line with a sign that tells what it was."""
    if not works:
        return
    for work in works:
        drawn.add_shape(
            type="line", name="work", x0=work.at, x1=work.at, y0=0, y1=top, layer="below",
            line={"color": colours.quiet, "width": 1},
        )  # fmt: skip
    drawn.add_scatter(
        x=[work.at for work in works],
        y=[0.96 * top] * len(works),
        mode="markers",
        marker={"symbol": "diamond-open", "size": 9, "color": colours.ink, "line": {"width": 1.5}},
        name="work",
        customdata=[plain(work.text) for work in works],
        hovertemplate="%{customdata}<extra></extra>",
    )


def add_recent(drawn: go.Figure, recent: tuple[int, int], colours: Palette) -> None:
    """Marks the last weeks, which are held against those before."""
    drawn.add_shape(
        type="line", name="last weeks", x0=recent[0] - 0.5, x1=recent[0] - 0.5, y0=0, y1=1, yref="paper",
        line={"color": colours.quiet, "width": 1, "dash": "dot"},
    )  # fmt: skip
    drawn.add_annotation(
        x=recent[0] - 0.45, y=1, yref="paper", xanchor="left", yanchor="bottom", text="last weeks ▸",
        showarrow=False, font={"size": 11, "color": colours.quiet},
    )  # fmt: skip
