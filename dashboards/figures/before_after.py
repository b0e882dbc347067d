"""A measured time before and after a repair: how the runs of each side are spread, one above the other; the limit."""

from __future__ import annotations

from typing import Any, Final

import plotly.graph_objects as go

from dashboards.figures._against import add_limit, add_median, seconds_axis
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
        add_median(drawn, view.medians[n], top, view.borders, colours, axis=axis, name=f"median {side}")
    add_limit(drawn, view.limit, view.borders, colours, least=view.least)
    dressed(drawn, colours, HEIGHT_PX, {"l": 58, "r": 10, "t": 18, "b": 42})
    drawn.update_layout(
        dragmode=False,
        bargap=0,
        xaxis={**seconds_axis(view.borders, colours), "anchor": "y2"},
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
