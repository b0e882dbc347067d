"""The safe working period over the weeks: what is used, the forecast with its interval, and where it ends."""

from __future__ import annotations

from typing import Final

import plotly.graph_objects as go

from dashboards.figures._weeks import add_missing, value_axis, week_axis
from dashboards.figures.theme import Palette, dressed
from dashboards.series import Ahead, LifeView

HEIGHT_PX: Final = 300


def used(view: LifeView, colours: Palette) -> go.Figure:
    """What is used [%] over time, carried on at the rate of the weeks."""
    drawn = go.Figure()
    shares = [100 * share for share in view.frame["used_share"]]
    ends = view.frame["end"].to_list()
    if view.ahead is not None:
        _add_forecast(drawn, view.ahead, colours)
    drawn.add_scatter(
        x=ends,
        y=shares,
        mode="lines+markers",
        marker={"size": 5, "color": colours.on},
        line={"color": colours.on, "width": 2},
        name="used",
        customdata=view.frame.select("week", "used_h").rows(),
        hovertemplate="until the end of <b>%{customdata[0]}</b>: %{y:.1f} %, %{customdata[1]:,.0f} h<extra></extra>",
    )
    until = view.ahead.until if view.ahead is not None else ends[-1]
    drawn.add_shape(
        type="line", name="limit", x0=0, x1=1, xref="paper", y0=100, y1=100, line={"color": colours.alert, "width": 1.5}
    )
    drawn.add_annotation(
        x=0, xref="paper", xanchor="left", y=100, yanchor="bottom", showarrow=False,
        text=f"limit: {view.duration_h:,.0f} h, then a general overhaul", font={"size": 11, "color": colours.alert},
    )  # fmt: skip
    if view.ahead is not None:
        _add_end(drawn, view.ahead, colours)
    dressed(drawn, colours, HEIGHT_PX, {"l": 54, "r": 14, "t": 14, "b": 44})
    drawn.update_layout(
        dragmode=False,
        xaxis={
            "type": "date",
            "range": [min(ends) - 0.02 * (until - min(ends)), until],
            "title": {"text": "year" if until - ends[0] > 2 * 366 * 86_400_000.0 else "date", "font": {"size": 12}},
            "showgrid": False,
            "linecolor": colours.rule,
            "ticks": "outside",
            "tickcolor": colours.rule,
            "nticks": 7,
            "fixedrange": True,
        },
        yaxis=value_axis("used [%]", 0, max(118.0, 1.1 * max(shares)), colours, 6),
    )
    return drawn


def _add_forecast(drawn: go.Figure, ahead: Ahead, colours: Palette) -> None:
    xs = [ahead.start, ahead.until]
    if ahead.low is not None and ahead.high is not None:
        drawn.add_scatter(
            x=[*xs, *reversed(xs)],
            y=[100 * share for share in (ahead.used, ahead.high, ahead.low, ahead.used)],
            fill="toself",
            fillcolor=colours.chosen_fill,
            line={"width": 0},
            mode="lines",
            hoverinfo="skip",
            name="95 % interval",
        )
    drawn.add_scatter(
        x=xs,
        y=[100 * ahead.used, 100 * ahead.middle],
        mode="lines",
        line={"color": colours.chosen, "width": 1.5, "dash": "dash"},
        name="at this rate",
        hovertemplate="%{x|%Y-%m-%d}: %{y:.0f} % at this rate<extra></extra>",
    )


def _add_end(drawn: go.Figure, ahead: Ahead, colours: Palette) -> None:
    """Where the forecast meets the limit, and between which days (95 %)."""
    early, late = ahead.earliest or ahead.ends, min(ahead.latest or ahead.until, ahead.until)
    drawn.add_scatter(
        x=[early, late],
        y=[100, 100],
        mode="lines",
        line={"color": colours.chosen, "width": 6},
        name="used up between",
        hovertemplate="%{x|%Y-%m-%d}: limit (95 %) of the day on which all is used<extra></extra>",
    )
    drawn.add_scatter(
        x=[ahead.ends],
        y=[100],
        mode="markers",
        marker={"symbol": "diamond", "size": 11, "color": colours.chosen},
        name="used up",
        hovertemplate="%{x|%Y-%m-%d}: all is used at this rate<extra></extra>",
    )


def weekly(view: LifeView, colours: Palette) -> go.Figure:
    """Hours of full load in each week."""
    drawn = go.Figure()
    hours = view.frame["full_load_h"].to_list()
    top = 1.15 * max([*hours, 1e-6])
    add_missing(drawn, view.weeks, view.frame["week"].to_list(), top, colours)
    drawn.add_bar(
        x=view.frame["at"].to_list(),
        y=hours,
        width=0.7,
        marker={"color": [colours.off if little else colours.on for little in view.frame["little"]]},
        name="hours of full load",
        customdata=[
            (week, ", little log" if little else "") for week, little in view.frame.select("week", "little").iter_rows()
        ],
        hovertemplate="<b>%{customdata[0]}</b>: %{y:.3~g} h of full load%{customdata[1]}<extra></extra>",
    )
    if view.h_per_week is not None:
        drawn.add_shape(
            type="line", name="rate", x0=0, x1=1, xref="x domain", y0=view.h_per_week, y1=view.h_per_week,
            line={"color": colours.quiet, "width": 1, "dash": "dash"},
        )  # fmt: skip
    dressed(drawn, colours, HEIGHT_PX, {"l": 54, "r": 8, "t": 14, "b": 58})
    drawn.update_layout(
        barmode="overlay",
        dragmode=False,
        xaxis=week_axis(view.weeks, colours),
        yaxis=value_axis("full load [h]", 0, top, colours, 5),
    )
    return drawn
