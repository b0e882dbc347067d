"""A measured time before and after a repair: how the runs of each side are spread, one above the other; the limit."""

from __future__ import annotations

from typing import Any, Final

import plotly.graph_objects as go

from dashboards.figures.theme import Palette, dressed
from dashboards.repairs import TimesView

HEIGHT_PX: Final = 250
_DOMAINS: Final = ((0.54, 1.0), (0.0, 0.46))
"""Before above, after below."""
_SIDES: Final = ("before", "after")


def figure(view: TimesView, colours: Palette) -> go.Figure:
    """The figure of a TimesView."""
    drawn = go.Figure()
    wide = view.borders[1] - view.borders[0]
    top = 1.25 * max(float(share.max(initial=0.0)) for share in view.shares) or 1.0
    for n, (share, side) in enumerate(zip(view.shares, _SIDES, strict=True)):
        axis = "y" if n == 0 else "y2"
        drawn.add_bar(
            x=view.borders[:-1] + wide / 2,
            y=share,
            width=wide * 0.92,
            yaxis=axis,
            name=side,
            marker={"color": colours.partly if n == 0 else colours.on, "line": {"width": 0}},
            hovertemplate=f"{side}: %{{y:.3~g}} % of the runs<br>around %{{x:.3~g}} s<extra></extra>",
        )
        median = view.medians[n]
        drawn.add_shape(
            type="line", name=f"median {side}", x0=median, x1=median, y0=0, y1=top, yref=axis,
            line={"color": colours.ink, "width": 2},
        )  # fmt: skip
        left = median < view.borders[-1] / 2
        drawn.add_annotation(
            x=median, y=top, yref=axis, yanchor="top", showarrow=False, bgcolor=colours.ground,
            xanchor="left" if left else "right", xshift=5 if left else -5,
            text=f"median {median:.3g} s", font={"size": 11},
        )  # fmt: skip
    _add_limit(drawn, view, colours)
    dressed(drawn, colours, HEIGHT_PX, {"l": 58, "r": 10, "t": 18, "b": 42})
    drawn.update_layout(
        dragmode=False,
        bargap=0,
        xaxis={
            "range": [float(view.borders[0]), float(view.borders[-1])],
            "title": {"text": "time [s]", "standoff": 6, "font": {"size": 12}},
            "gridcolor": colours.rule,
            "zeroline": False,
            "fixedrange": True,
            "nticks": 7,
            "anchor": "y2",
        },
        yaxis=_side(_DOMAINS[0], "before", top, colours),
        yaxis2=_side(_DOMAINS[1], "after", top, colours),
    )
    return drawn


def _side(domain: tuple[float, float], name: str, top: float, colours: Palette) -> dict[str, Any]:
    return {
        "domain": list(domain),
        "range": [0, top],
        "title": {"text": f"<b>{name}</b><br>% of runs", "standoff": 4, "font": {"size": 11}},
        "gridcolor": colours.rule,
        "zeroline": False,
        "fixedrange": True,
        "nticks": 3,
        "anchor": "x",
    }


def _add_limit(drawn: go.Figure, view: TimesView, colours: Palette) -> None:
    drawn.add_shape(
        type="line", name="limit", x0=view.limit, x1=view.limit, y0=0, y1=1, yref="paper",
        line={"color": colours.alert, "width": 1.5, "dash": "dash"},
    )  # fmt: skip
    way = "at least" if view.least else "at most"
    drawn.add_annotation(
        x=view.limit, y=1, yref="paper", yanchor="bottom", showarrow=False, text=f"limit: {way} {view.limit:.3g} s",
        xanchor="right" if view.limit > view.borders[-1] / 2 else "left", font={"size": 11},
    )  # fmt: skip
