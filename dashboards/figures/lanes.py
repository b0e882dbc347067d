"""The lanes: one for each logged signal, on as a tall block, off as a thin line, unknown as hatching.

Shape says the state, colour only repeats it: a full block is on throughout, a block of two tones is on for part of
the bin, a thin line is off. Red is kept for states that need a person.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import plotly.graph_objects as go
import polars as pl

from dashboards import bins, words
from dashboards.figures._marks import add_line, add_mark
from dashboards.figures._measures import STRIP_PX, add_measures
from dashboards.figures.theme import CLEAR, NARROW, Palette, dressed, hatch, time_axis
from dashboards.tables import Lane, LanesView, Mark

LANE_PX: Final = 22
HEADING: Final = 0.9
"""Height of a motion's heading, in lanes."""
TOP_PX: Final = 30
BOTTOM_PX: Final = 62
RIGHT_PX: Final = 14
MOST_PX: Final = 8192
"""Widest figure [px]: no screen of today is wider, and a browser may ask for anything."""
_TICK_PX: Final = 95
"""Room for the longest label of the time axis."""

# parts of a lane, from its top: air, block, foot, air
_AIR, _BLOCK, _FOOT = 0.14, 0.6, 0.1
_CLEAR, _OFF, _PARTLY, _ON, _ALERT_PARTLY, _ALERT = range(6)


def left_px(width: int) -> int:
    """Room for the names [px]."""
    return 138 if width < NARROW else 158


def bins_for(width: int) -> int:
    """One bin for each pixel of the plot: a browser blends finer ones into states that never were."""
    return max(100, min(width, MOST_PX) - left_px(width) - RIGHT_PX)


@dataclass(frozen=True)
class Places:
    """Where everything stands, in lanes from the top."""

    top: tuple[float, ...]
    """Top of each lane."""
    headings: tuple[tuple[float, str], ...]
    """Middle of each heading, and its text."""
    height: float

    @classmethod
    def of(cls, lanes: tuple[Lane, ...]) -> Places:
        """The places of lanes, with a heading before each group."""
        tops, headings, at, group = [], [], 0.0, None
        for lane in lanes:
            if lane.motion != group:
                headings.append((at + HEADING / 2, words.GROUPS[lane.motion]))
                at, group = at + HEADING, lane.motion
            tops.append(at)
            at += 1
        return cls(tuple(tops), tuple(headings), max(at, 1.0))

    @property
    def middle(self) -> tuple[float, ...]:
        """Middle of each lane's drawing."""
        return tuple(top + _AIR + (_BLOCK + _FOOT) / 2 for top in self.top)


def figure(view: LanesView, mark: Mark | None, colours: Palette, width: int) -> go.Figure:
    """The lanes of a window, with the measured signals below, for a figure of `width` pixels."""
    places = Places.of(view.lanes)
    drawn = go.Figure()
    if view.binned is not None:
        _add_bins(drawn, view, places, colours)
    if view.intervals is not None:
        _add_intervals(drawn, view.lanes, view.intervals, places, colours)
    _add_unknown(drawn, view.unknown, places, colours)
    lanes_px = round(places.height * LANE_PX) if view.lanes else 0
    height = TOP_PX + lanes_px + BOTTOM_PX + len(view.measures) * STRIP_PX
    margin = {"l": left_px(width), "r": RIGHT_PX, "t": TOP_PX, "b": BOTTOM_PX}
    dressed(drawn, colours, height, margin)
    # a drag on a telephone scrolls the page; there the buttons zoom
    drawn.update_layout(dragmode=False if width < NARROW else "zoom")
    _lay_out(drawn, view, places, colours, height - TOP_PX - BOTTOM_PX, lanes_px)
    for place in view.steps:
        add_line(drawn, place, "clock set", colours.quiet)
    if mark:
        add_mark(drawn, mark, view.window, colours, narrow=width < NARROW)
    return drawn


def _add_bins(drawn: go.Figure, view: LanesView, places: Places, colours: Palette) -> None:
    """The bins as one picture, and over it an invisible one that answers the pointer."""
    assert view.binned is not None
    start, end = view.window
    step = (end - start) / view.bins
    borders, rows = _picture(view, places)
    scale = (CLEAR, colours.off, colours.partly, colours.on, colours.alert_partly, colours.alert)
    across = {"x0": start + step / 2, "dx": step, "showscale": False}
    drawn.add_heatmap(
        z=rows, y=borders, zmin=-0.5, zmax=5.5, colorscale=_steps(scale), hoverinfo="skip", name="picture", **across
    )
    code = view.binned.code.astype(np.float32)
    code[view.binned.code == bins.UNKNOWN] = np.nan  # there the hatching answers the pointer
    drawn.add_heatmap(
        z=code,
        y=np.array(places.middle),
        customdata=np.stack([view.binned.on_s, view.binned.times.astype(np.float32)], axis=-1),
        zmin=0,
        zmax=3,
        colorscale=_steps((CLEAR, CLEAR)),
        hoverongaps=False,
        hovertemplate=f"<b>%{{y}}</b><br>on %{{customdata[1]}} ×, %{{customdata[0]:.4~g}} s<br>within "
        f"{words.length(step / 1000)} around %{{x|%a %H:%M:%S}}<extra></extra>",
        name="states",
        **across,
    )


def _picture(view: LanesView, places: Places) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Rows of colour numbers and the borders between them, from the top: air, block and foot of every lane."""
    assert view.binned is not None
    empty = np.zeros(view.bins, np.uint8)
    borders, rows = [0.0], []
    for n, lane in enumerate(view.lanes):
        block, foot = _shades(view.binned.code[n], lane.alert)
        top = places.top[n] + _AIR
        rows += [empty, block, foot]
        borders += [top, top + _BLOCK, top + _BLOCK + _FOOT]
    return np.array([*borders, places.height]), np.stack([*rows, empty])


def _shades(code: np.ndarray[Any, Any], alert: str | None) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Colour numbers of a lane's block and foot for each bin."""
    partly, on = (_ALERT_PARTLY, _ALERT) if alert == "on" else (_PARTLY, _ON)
    off = _ALERT if alert == "off" else _OFF
    # by code: unknown, off, partly, on; a partly lit bin has a pale block on a full foot
    return np.array([_CLEAR, _CLEAR, partly, on], np.uint8)[code], np.array([_CLEAR, off, on, on], np.uint8)[code]


def _steps(colours: tuple[str, ...]) -> list[list[Any]]:
    """A colour scale without transitions."""
    count = len(colours)
    return [[edge / count, colour] for n, colour in enumerate(colours) for edge in (n, n + 1)]


def _add_intervals(
    drawn: go.Figure, lanes: tuple[Lane, ...], intervals: pl.DataFrame, places: Places, colours: Palette
) -> None:
    """Every interval exactly; however short, it keeps a border of one pixel."""
    alert = pl.Series("alert", [lane.alert or "" for lane in lanes], pl.String)
    marked = intervals.with_columns(alert=alert.gather(intervals["lane"]))
    kinds = (
        ("on", pl.col("on") & (pl.col("alert") != "on"), colours.on),
        ("on, needs a person", pl.col("on") & (pl.col("alert") == "on"), colours.alert),
        ("off", ~pl.col("on") & (pl.col("alert") != "off"), colours.off),
        ("off, needs a person", ~pl.col("on") & (pl.col("alert") == "off"), colours.alert),
    )
    for name, chosen, colour in kinds:
        part = marked.filter(chosen)
        if part.is_empty():
            continue
        tall = name.startswith("on")
        offset, height = (-(_BLOCK + _FOOT) / 2, _BLOCK + _FOOT) if tall else ((_BLOCK - _FOOT) / 2, _FOOT)
        _add_bars(
            drawn,
            part,
            places,
            offset=offset,
            width=height,
            name=name,
            marker={"color": colour, "line": {"color": colour, "width": 1 if tall else 0}},
            customdata=part.select("begin", "until", "lasts", "lines").to_numpy(),
            hovertemplate=f"<b>%{{y}}</b> {'on' if tall else 'off'} for %{{customdata[2]}}<br>from %{{customdata[0]}}"
            "<br>to %{customdata[1]}<br>lines %{customdata[3]}<extra></extra>",
        )


def _add_unknown(drawn: go.Figure, unknown: pl.DataFrame, places: Places, colours: Palette) -> None:
    if unknown.is_empty():
        return
    _add_bars(
        drawn,
        unknown,
        places,
        offset=-(_BLOCK + _FOOT) / 2,
        width=_BLOCK + _FOOT,
        name="not known",
        marker=hatch(colours),
        customdata=unknown.select("begin", "until").to_numpy(),
        hovertemplate="<b>%{y}</b> not known<br>from %{customdata[0]}<br>to %{customdata[1]}<extra></extra>",
    )


def _add_bars(drawn: go.Figure, part: pl.DataFrame, places: Places, **more: Any) -> None:
    middle = np.array(places.middle)
    drawn.add_bar(
        orientation="h",
        base=part["at"].to_numpy(),
        x=part["length"].to_numpy(),
        y=middle[part["lane"].to_numpy()],
        **more,
    )


def _lay_out(drawn: go.Figure, view: LanesView, places: Places, colours: Palette, plot_px: int, lanes_px: int) -> None:
    """Axes: the lanes on top, each measured signal in a strip of its own below."""
    names = [*places.middle, *(at for at, _ in places.headings)]
    texts = [*(lane.name for lane in view.lanes), *(f"<b>{text}</b>" for _, text in places.headings)]
    last = f"y{len(view.measures) + 1}" if view.measures else "y"
    drawn.update_layout(
        barmode="overlay",
        xaxis=time_axis(colours, view.window, view.clock, anchor=last, nticks=max(3, view.bins // _TICK_PX)),
        yaxis={
            "range": [places.height, 0],
            "domain": [1 - lanes_px / plot_px if lanes_px else 0.999, 1],
            "tickvals": names,
            "ticktext": texts,
            "ticks": "",
            "fixedrange": True,
            "showgrid": False,
            "zeroline": False,
        },
    )
    add_measures(drawn, view, colours, plot_px, lanes_px)
