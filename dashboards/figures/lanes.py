"""The lanes: one for each logged signal, on as a tall block, off as a thin line, unknown as hatching.

Shape says the state, colour only repeats it: a full block is on throughout, a block of two tones is on for part of
the bin, a thin line is off. Red is kept for states that need a person. However short a state, it is drawn at least one
pixel wide and nothing is drawn over it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import plotly.graph_objects as go
import polars as pl

from dashboards import bins, words
from dashboards.figures._marks import add_line, add_mark
from dashboards.figures._measures import STRIP_PX, add_measures, axes
from dashboards.figures._png import data_uri
from dashboards.figures.theme import CLEAR, NARROW, Palette, hatch, look, time_axis
from dashboards.tables import Lane, LanesView, Mark

LANE_PX: Final = 22
HEADING: Final = 1
"""Height of a motion's heading, in lanes; whole, so that lanes and headings are rows of one height."""
TOP_PX: Final = 30
BOTTOM_PX: Final = 62
MOST_PX: Final = 8192
"""Widest figure [px]: no screen of today is wider, and a browser may ask for anything."""
_TICK_PX: Final = 95
"""Room for the longest label of the time axis."""

# parts of a lane, from its top: air, block, foot, air
_AIR, _BLOCK, _FOOT = 0.14, 0.6, 0.1
_MIDDLE: Final = _AIR + (_BLOCK + _FOOT) / 2
"""Middle of a lane's drawing, below its top."""
_MOMENT_PX: Final = 2
"""Time off that is narrower than this is drawn as a block of its own: the blocks beside it may be rounded over it."""
_CLEAR, _OFF, _PARTLY, _ON, _ALERT_PARTLY, _ALERT = range(6)


def left_px(width: int) -> int:
    """Room for the names [px]."""
    return 138 if width < NARROW else 158


def right_px(width: int) -> int:
    """Room at the right [px]: for half the label of a time at the very end; on a telephone that label is left out."""
    return 14 if width < NARROW else 40


def bins_for(width: int, density: float = 1.0) -> int:
    """One bin for each pixel of the plot: a browser blends finer ones into states that never were.

    density: points of the screen for each pixel of the page, where a page is shown smaller than it is.
    """
    return max(100, int((min(width, MOST_PX) - left_px(width) - right_px(width)) * density))


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
        return tuple(top + _MIDDLE for top in self.top)


def figure(view: LanesView, mark: Mark | None, colours: Palette, width: int) -> go.Figure:
    """The lanes of a window, with the measured signals below, for a figure of `width` pixels."""
    places = Places.of(view.lanes)
    drawn = go.Figure(layout=_layout(view, places, colours, width))
    if view.binned is not None:
        _add_bins(drawn, view, places, colours)
    if view.intervals is not None:
        _add_intervals(drawn, view, places, colours)
    _add_unknown(drawn, view.unknown, places, colours)
    add_measures(drawn, view, colours)
    for place in view.steps:
        add_line(drawn, place, "clock set", colours.quiet)
    if mark:
        add_mark(drawn, mark, view.window, colours, narrow=width < NARROW)
    return drawn


def _add_bins(drawn: go.Figure, view: LanesView, places: Places, colours: Palette) -> None:
    """The bins as one picture, a pixel for each, and an invisible map that answers the pointer."""
    assert view.binned is not None
    start, end = view.window
    step = (end - start) / view.bins
    scale = (CLEAR, colours.off, colours.partly, colours.on, colours.alert_partly, colours.alert)
    drawn.add_layout_image(
        name="picture", source=data_uri(picture(view, places), scale), xref="x", yref="y", x=start, y=0,
        sizex=end - start, sizey=places.height, sizing="stretch", layer="above",
    )  # fmt: skip
    rows = np.array([round(top) for top in places.top])
    code = np.full((round(places.height), view.bins), np.nan, np.float32)
    code[rows] = view.binned.code
    code[code == bins.UNKNOWN] = np.nan  # there the hatching answers the pointer
    drawn.add_heatmap(
        z=code,
        x0=start + step / 2,
        dx=step,
        y0=_MIDDLE,
        dy=1,
        customdata=_told(view, rows, len(code)),
        zmin=0,
        zmax=3,
        zsmooth="fast",
        showscale=False,
        colorscale=[[0, CLEAR], [1, CLEAR]],
        hoverongaps=False,
        hovertemplate="<b>%{y}</b><br>on %{customdata[0]} ×, %{customdata[1]} % of the time<br>within "
        f"{words.length(step / 1000)} around %{{x|%a %H:%M:%S}}<extra></extra>",
        name="states",
    )


def _told(view: LanesView, rows: np.ndarray[Any, Any], height: int) -> np.ndarray[Any, Any]:
    """How often each bin was on, and for what share of it [%]: 0 and 100 only where it is none and all of it."""
    assert view.binned is not None
    share = view.binned.on_s / ((view.window[1] - view.window[0]) / 1000 / view.bins)
    percent = np.clip(np.round(100 * share), view.binned.times > 0, np.where(view.binned.code == bins.ON, 100, 99))
    told = np.zeros((height, view.bins, 2), np.uint16)
    told[rows] = np.stack([np.minimum(view.binned.times, 65_535), percent], axis=-1)
    return told


def picture(view: LanesView, places: Places) -> np.ndarray[Any, Any]:
    """Colour numbers of each pixel: air, block and foot of every lane."""
    assert view.binned is not None
    shown = np.zeros((round(places.height) * LANE_PX, view.bins), np.uint8)
    for n, lane in enumerate(view.lanes):
        block, foot = _shades(view.binned.code[n], view.binned.known[n], lane.alert)
        top, middle, bottom = (
            round((places.top[n] + part) * LANE_PX) for part in (_AIR, _AIR + _BLOCK, 2 * _MIDDLE - _AIR)
        )
        shown[top:middle], shown[middle:bottom] = block, foot
    return shown


def _shades(
    code: np.ndarray[Any, Any], known: np.ndarray[Any, Any], alert: str | None
) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Colour numbers of a lane's block and foot for each bin; known: whether any of the bin is."""
    on, off = _ALERT if alert == "on" else _ON, _ALERT if alert == "off" else _OFF
    # by code: unknown, off, partly, on; a partly lit bin has a pale block on a full foot, red where any of it is
    partly, under = (_ALERT_PARTLY, _ALERT) if alert else (_PARTLY, _ON)
    block = np.array([_CLEAR, _CLEAR, partly, on], np.uint8)[code]
    foot = np.array([off, off, under, on], np.uint8)[code]  # off for part of a bin whose rest is not known, too
    return block, np.where(known, foot, _CLEAR).astype(np.uint8)


def _add_intervals(drawn: go.Figure, view: LanesView, places: Places, colours: Palette) -> None:
    """Every interval exactly; however short, it is drawn one pixel wide."""
    assert view.intervals is not None
    alert = pl.Series("alert", [lane.alert or "" for lane in view.lanes], pl.String)
    marked = _widened(view).with_columns(alert=alert.gather(view.intervals["lane"]))
    on, moment = pl.col("on"), ~pl.col("on") & (pl.col("length") < _MOMENT_PX * _pixel_ms(view))
    for name, chosen, calls, colour, red in (
        ("on", on, pl.col("alert") == "on", colours.on, colours.alert),
        ("off", ~on, pl.col("alert") == "off", colours.off, colours.alert),
        # a pixel that was on before and after: red where either state is
        ("off for a moment", moment, pl.col("alert") != "", colours.partly, colours.alert_partly),
    ):
        tall, part = name != "off", marked.filter(chosen)
        _add_states(drawn, part.filter(~calls), places, name=name, colour=colour, tall=tall)
        _add_states(drawn, part.filter(calls), places, name=f"{name}, needs a person", colour=red, tall=tall)


def _pixel_ms(view: LanesView) -> float:
    return (view.window[1] - view.window[0]) / view.bins


def _widened(view: LanesView) -> pl.DataFrame:
    """The intervals, those of which less than one pixel is in view as one pixel within it."""
    assert view.intervals is not None
    (start, end), pixel = view.window, _pixel_ms(view)
    at, until = pl.col("at"), pl.col("at") + pl.col("length")
    narrow = until.clip(upper_bound=end) - at.clip(lower_bound=start) < pixel
    return view.intervals.with_columns(
        at=pl.when(narrow).then(at.clip(start, end - pixel)).otherwise(at),
        length=pl.when(narrow).then(pixel).otherwise("length"),
    )


def _add_states(drawn: go.Figure, part: pl.DataFrame, places: Places, *, name: str, colour: str, tall: bool) -> None:
    """Intervals of one kind: tall blocks or thin lines. Without borders, the library widens them to whole pixels."""
    if part.is_empty():
        return
    offset, height = (-(_BLOCK + _FOOT) / 2, _BLOCK + _FOOT) if tall else ((_BLOCK - _FOOT) / 2, _FOOT)
    _add_bars(
        drawn,
        part,
        places,
        offset=offset,
        width=height,
        name=name,
        marker={"color": colour, "line": {"width": 0}},
        customdata=part.select("begin", "until", "lasts", "lines").to_numpy(),
        hovertemplate=f"<b>%{{y}}</b> {'on' if name.startswith('on') else 'off'} for %{{customdata[2]}}<br>"
        "from %{customdata[0]}<br>to %{customdata[1]}<br>lines %{customdata[3]}<extra></extra>",
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


def _layout(view: LanesView, places: Places, colours: Palette, width: int) -> dict[str, Any]:
    """Look and axes: the lanes on top, each measured signal in a strip of its own below."""
    lanes_px = round(places.height * LANE_PX) if view.lanes else 0
    height = TOP_PX + lanes_px + BOTTOM_PX + len(view.measures) * STRIP_PX
    plot_px = height - TOP_PX - BOTTOM_PX
    narrow = width < NARROW
    names = [*places.middle, *(at for at, _ in places.headings)]
    texts = [*(lane.name for lane in view.lanes), *(f"<b>{text}</b>" for _, text in places.headings)]
    last = f"y{len(view.measures) + 1}" if view.measures else "y"
    time = time_axis(colours, view.window, view.clock, anchor=last, nticks=max(3, view.bins // _TICK_PX))
    return {
        **look(colours, height, {"l": left_px(width), "r": right_px(width), "t": TOP_PX, "b": BOTTOM_PX}),
        "width": width,  # exactly one bin a pixel
        "dragmode": False if narrow else "zoom",  # a drag on a telephone scrolls the page, there the buttons zoom
        "barmode": "overlay",
        # labels that the browser need not measure are drawn sooner
        "xaxis": {**time, "ticklabeloverflow": "hide past div" if narrow else "allow"},
        "yaxis": {
            "range": [places.height, 0],
            "domain": [1 - lanes_px / plot_px if lanes_px else 0.999, 1],
            "tickvals": names,
            "ticktext": texts,
            "ticks": "",
            "ticklabeloverflow": "allow",
            "fixedrange": True,
            "showgrid": False,
            "zeroline": False,
        },
        **axes(view, colours, plot_px, lanes_px),
    }
