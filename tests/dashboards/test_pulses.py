"""Guards that no pulse is hidden: however short and at every zoom, it is drawn a pixel wide and in its colour."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest

from dashboards import bins
from dashboards.figures import lanes as drawing
from dashboards.figures.theme import PALETTES
from dashboards.tables import LanesView
from tests.dashboards.pictures import Pixels, colour_of, picture_of
from tests.dashboards.pulses import LENGTH_S, Pulse, axis_ms, planted, week

LIGHT = PALETTES["light"]
WIDTH = 1372
WHOLE = round(1e6 * LENGTH_S)
ZOOMS = range(31)  # halved 30 times, three weeks are two milliseconds; once more makes one
BLOCK, FOOT = 0.4, 0.79
"""Places in a lane, below its top: in the block, and in the line under it."""
Colour = tuple[int, int, int] | None
SHARES = (0.0, 0.5, 1.0, 0.31)
"""Where in its window the pulse lies that is looked at: at the beginning, in the middle, at the end."""


def shows(pulse: Pulse, block: Colour, foot: Colour) -> bool:
    """Whether a column of pixels shows a pulse: a block of its colour, or of the colour of a part of it; of a time off
    also no block, but the line of what is off."""
    red = pulse.signal in ("overload.trip", "supply.control")
    if block == colour_of(LIGHT.alert_partly if red else LIGHT.partly):
        return True
    if pulse.on:
        return block == colour_of(LIGHT.alert if red else LIGHT.on)
    return block is None and foot == colour_of(LIGHT.alert if red else LIGHT.off)


def columns(figure: go.Figure, picture: Pixels | None, view: LanesView, lane: int, part: float) -> list[Colour]:
    """The colour of each column of pixels of a lane, so far below its top [lanes]; None where nothing is.

    picture: that of the figure, where it has one.
    """
    top = drawing.Places.of(view.lanes).top[lane]
    if picture is not None:
        row = picture[round((top + part) * drawing.LANE_PX)]
        return [(red, green, blue) if there else None for red, green, blue, there in row.tolist()]
    drawn: list[Colour] = [None] * view.bins
    for bar in figure.data:
        if bar.type == "bar" and not bar.marker.pattern.shape and bar.offset <= part - 0.49 <= bar.offset + bar.width:
            paint(drawn, bar, top + 0.49, view)
    return drawn


def paint(drawn: list[Colour], bar: Any, middle: float, view: LanesView) -> None:
    """As the library draws bars without a border: rounded to whole pixels, narrow ones outwards."""
    pixel = (view.window[1] - view.window[0]) / view.bins
    assert bar.marker.line.width == 0
    colour = colour_of(bar.marker.color)
    base, length, at = (np.asarray(one, float) for one in (bar.base, bar.x, bar.y))
    here = (np.abs(at - middle) < 0.01) & (length > 0)
    lefts, rights = ((one[here] - view.window[0]) / pixel for one in (base, base + length))
    for left, right in zip(lefts.tolist(), rights.tolist(), strict=True):
        if right - left >= 2:
            first, after = round(left), round(right)
        else:
            first, after = math.floor(left + 1e-6), math.ceil(right - 1e-6)
        first, after = max(first, 0), min(max(after, first + 1), view.bins)
        drawn[first:after] = [colour] * max(after - first, 0)


def hidden(window: tuple[int, int]) -> list[Pulse]:
    """The pulses in a window that its figure does not show."""
    view = week().lanes.view((axis_ms(window[0]), axis_ms(window[1])), drawing.bins_for(WIDTH))
    figure = drawing.figure(view, None, LIGHT, WIDTH)
    names = [lane.signal for lane in view.lanes]
    picture = picture_of(figure)
    seen = {
        name: [columns(figure, picture, view, names.index(name), part) for part in (BLOCK, FOOT)]
        for name in {one.signal for one in planted()}
    }
    borders = bins.edges(*window, view.bins)
    missed = []
    for pulse in planted():
        start, end = max(pulse.start, window[0]), min(pulse.end, window[1])
        if start >= end:
            continue
        first, last = (int(np.searchsorted(borders, at, "right")) - 1 for at in (start, end - 1))
        block, foot = seen[pulse.signal]
        if not any(shows(pulse, block[n], foot[n]) for n in range(first, last + 1)):
            missed.append(pulse)
    return missed


def windows(zoom: int) -> list[tuple[int, int]]:
    """Windows of one zoom: one for each pulse at an odd place, and for some at random."""
    width = max(WHOLE >> zoom, 1000)
    pulses = [one for n, one in enumerate(planted()) if n % 5 == 0 or one.start % 1_000_000 in (0, 999_000, 2000)]
    found = []
    for n, pulse in enumerate(pulses[zoom % 4 :: 4] if zoom else pulses[:1]):
        share = SHARES[(n + zoom) % len(SHARES)]
        # at 0 and 1 the window begins or ends within the pulse
        start = min(max(round(pulse.start + 500 - share * width), 0), WHOLE - width)
        found.append((start, start + width))
    return found


@pytest.mark.parametrize("zoom", ZOOMS)
def test_every_planted_pulse_is_drawn_at_every_zoom(zoom: int) -> None:
    for window in windows(zoom):
        assert hidden(window) == []


def test_the_zooms_reach_from_bins_to_exact_intervals_and_to_a_millisecond() -> None:
    assert WHOLE >> ZOOMS[-1] <= 1000 or max(WHOLE >> ZOOMS[-1], 1000) == WHOLE >> ZOOMS[-1]
    exact = [
        week().lanes.view((axis_ms(window[0]), axis_ms(window[1])), 1000).intervals is not None
        for window in (windows(zoom)[0] for zoom in ZOOMS)
    ]
    assert (exact[0], exact[-1]) == (False, True)


def test_a_pulse_that_is_not_there_is_not_seen() -> None:
    """The look itself: away from the pulses nothing is taken for one."""
    view = week().lanes.view((axis_ms(0), axis_ms(WHOLE)), drawing.bins_for(WIDTH))
    figure = drawing.figure(view, None, LIGHT, WIDTH)
    names = [lane.signal for lane in view.lanes]
    for signal in {one.signal for one in planted()}:
        here = [one for one in planted() if one.signal == signal]
        block, foot = (columns(figure, picture_of(figure), view, names.index(signal), part) for part in (BLOCK, FOOT))
        marked = {n for n in range(view.bins) if shows(here[0], block[n], foot[n])}
        expected = {int(one.start * view.bins / WHOLE) for one in here}
        assert len(marked ^ expected) <= 4  # at borders of bins, and of the unknown hour
