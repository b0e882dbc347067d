"""Guards that a browser draws every pulse: the pixels of its lane at its place have its colour."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from playwright.sync_api import Page

import dashboards
from dashboards.data.week import NARROWEST_S
from dashboards.figures.theme import PALETTES
from dashboards.pages.week import ids
from tests.dashboards.browser import browsing, served
from tests.dashboards.pictures import Pixels, colour_of, read_png
from tests.dashboards.pulses import LENGTH_S, Pulse, axis_ms, planted, week

LIGHT = PALETTES["light"]
WIDTHS_S = (LENGTH_S, 200_000.0, 20_000.0, 1000.0, 30.0, 1.0, NARROWEST_S)
"""Windows of the sample [s]: bins, the change to exact intervals, and the narrowest."""
CHOSEN = (5, 6, 17, 33)
"""Pulses of each signal that are looked at, by their order in the log."""
NEAR = 60
"""How far two colours may be apart, of 441 from black to white: edges are smoothed."""

PLACE = """([id, lane, start, end]) => {
    const drawn = document.querySelector(`#${id} .js-plotly-plot`);
    const {xaxis, yaxis, _size} = drawn._fullLayout;
    const box = drawn.getBoundingClientRect();
    const at = drawn.layout.yaxis.tickvals[drawn.layout.yaxis.ticktext.indexOf(lane)];
    const left = box.left + _size.l;
    return {first: left + xaxis.c2p(start), last: left + xaxis.c2p(end), y: box.top + yaxis._offset + yaxis.c2p(at),
            left: left, right: left + xaxis._length};
}"""
NAMES = {
    "hoist.raise.limit": "raise limit",
    "overload.trip": "overload trip",
    "hoist.brake.released": "brake released",
    "supply.control": "control supply",
}


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served(dashboards.create_app(week().review)) as at:
        yield f"{at}/"


def sample() -> list[Pulse]:
    """A few pulses of each signal."""
    return [[one for one in planted() if one.signal == signal][number] for signal in NAMES for number in CHOSEN]


def show(page: Page, address: str, window: tuple[float, float]) -> None:
    """Opens the page at a window [ms on the axis] and waits until its lanes are drawn."""
    page.goto(f"{address}?view={window[0]:.0f}_{window[1]:.0f}")
    page.wait_for_selector(f"#{ids.LANES} .cartesianlayer .point path, #{ids.LANES} .imagelayer image")
    page.wait_for_function("id => document.getElementById(id).innerText.length > 0", arg=ids.LANES_READING)
    page.locator(f"#{ids.LANES}").scroll_into_view_if_needed()


def pixels(page: Page, pulse: Pulse) -> Pixels:
    """The pixels through the block of a lane where a pulse lies, one to either side of it included."""
    place = page.evaluate(PLACE, [ids.LANES, NAMES[pulse.signal], axis_ms(pulse.start), axis_ms(pulse.end)])
    left = float(max(np.floor(place["first"]) - 1, place["left"]))
    right = float(min(np.ceil(place["last"]) + 1, place["right"]))
    clip = {"x": left, "y": place["y"] - 3, "width": max(right - left, 1), "height": 2}
    return read_png(page.screenshot(clip=clip))


def sees(found: Pixels, pulse: Pulse) -> bool:
    """Whether any pixel has the colour of the pulse, or of a part of it; of a time off also that of the ground."""
    red = pulse.signal in ("overload.trip", "supply.control")
    wanted = [LIGHT.alert_partly if red else LIGHT.partly]
    wanted.append((LIGHT.alert if red else LIGHT.on) if pulse.on else LIGHT.ground)
    colours = found.reshape(-1, found.shape[-1])[:, :3].astype(float)
    return any(np.linalg.norm(colours - np.array(colour_of(one)), axis=1).min() <= NEAR for one in wanted)


@pytest.mark.parametrize("width_s", WIDTHS_S)
def test_a_browser_shows_every_pulse_of_the_sample(address: str, width_s: float) -> None:
    with browsing() as (opened, complaints, _):
        shown = None
        for pulse in sample():
            middle = axis_ms(pulse.start)
            window = (middle - 500 * width_s, middle + 500 * width_s)
            if shown is None or width_s < LENGTH_S:
                show(opened, address, window)
                shown = window
            assert sees(pixels(opened, pulse), pulse), (pulse, width_s)
        assert complaints == []


@pytest.mark.parametrize("scale", [0.8, 1.5])
def test_coarser_and_finer_screens_show_them_too(address: str, scale: float) -> None:
    with browsing() as (first, _, _):
        browser = first.context.browser
        assert browser is not None
        opened = browser.new_page(viewport={"width": 1440, "height": 1000}, device_scale_factor=scale)
        show(opened, address, (axis_ms(0), axis_ms(round(1e6 * LENGTH_S))))
        for pulse in sample():
            assert sees(pixels(opened, pulse), pulse), (pulse, scale)


def test_the_look_finds_nothing_where_nothing_is(address: str) -> None:
    """The look itself: a second after a pulse its lane shows rest."""
    with browsing() as (opened, _, _):
        for signal in NAMES:
            pulse = next(one for one in planted() if one.signal == signal and one.start > 10**9)
            middle = axis_ms(pulse.start)
            show(opened, address, (middle - 5000, middle + 5000))
            beside = Pulse(signal, pulse.start + 1_000_000, pulse.end + 1_000_000)
            assert sees(pixels(opened, pulse), pulse)
            assert not sees(pixels(opened, beside), beside)
