"""Guards that a browser draws every pulse: the pixels of its lane at its place have its colour."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

import numpy as np
import pytest
from playwright.sync_api import Browser, Page

import dashboards
from dashboards.data.week import NARROWEST_S
from dashboards.figures.theme import PALETTES
from dashboards.pages.week import ids
from tests.dashboards.browser import Opened, served
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
MOVE = """([id, start, end]) => {
    const drawn = document.querySelector(`#${id} .js-plotly-plot`);
    window.before = drawn.data;
    window.Plotly.relayout(drawn, {"xaxis.range[0]": start, "xaxis.range[1]": end});
}"""
"""What a drag over the lanes does."""
MOVED = """([id, view]) => document.querySelector(`#${id} .js-plotly-plot`).data !== window.before
    && new URLSearchParams(location.search).get("view") === view"""
"""Whether what the server answered is drawn: other data, and their window in the address."""
PAINTED = """async id => {
    const pictures = [...document.querySelectorAll(`#${id} .imagelayer image`)];
    await Promise.all(pictures.map(one => {
        const picture = new Image();
        picture.src = one.getAttribute("href") || one.getAttribute("xlink:href");
        return picture.decode();
    }));
    await new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)));
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


def move(page: Page, window: tuple[float, float]) -> None:
    """Moves the lanes to a window as a reader does who drags over them, and waits until they are drawn anew."""
    start, end = week().fitted(window)
    page.evaluate(MOVE, [ids.LANES, start, end])
    page.wait_for_function(MOVED, arg=[ids.LANES, f"{start:.0f}_{end:.0f}"])
    page.evaluate(PAINTED, ids.LANES)


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
def test_a_browser_shows_every_pulse_of_the_sample(address: str, visited: Opened, width_s: float) -> None:
    """The page is opened at the first pulse; the lanes go on to the others."""
    opened, complaints, _ = visited
    shown = False
    for pulse in sample():
        middle = axis_ms(pulse.start)
        window = (middle - 500 * width_s, middle + 500 * width_s)
        if not shown:
            show(opened, address, window)
            shown = True
        elif width_s < LENGTH_S:
            move(opened, window)
        assert sees(pixels(opened, pulse), pulse), (pulse, width_s)
    assert complaints == []


@pytest.mark.parametrize("scale", [0.8, 1.5])
def test_coarser_and_finer_screens_show_them_too(address: str, browser: Browser, scale: float) -> None:
    context = browser.new_context(viewport={"width": 1440, "height": 1000}, device_scale_factor=scale)
    with closing(context), closing(context.new_page()) as opened:
        show(opened, address, (axis_ms(0), axis_ms(round(1e6 * LENGTH_S))))
        for pulse in sample():
            assert sees(pixels(opened, pulse), pulse), (pulse, scale)


def test_the_look_finds_nothing_where_nothing_is(address: str, visited: Opened) -> None:
    """The look itself: a second after a pulse its lane shows rest; a page that is opened there and one that has moved
    show the same."""
    opened, _, _ = visited
    for signal in NAMES:
        pulse = next(one for one in planted() if one.signal == signal and one.start > 10**9)
        middle = axis_ms(pulse.start)
        there = middle - 5000, middle + 5000
        show(opened, address, there)
        beside = Pulse(signal, pulse.start + 1_000_000, pulse.end + 1_000_000)
        looks = [pixels(opened, pulse), pixels(opened, beside)]
        assert sees(looks[0], pulse)
        assert not sees(looks[1], beside)
        move(opened, (axis_ms(0), axis_ms(10**9)))
        move(opened, there)
        assert all(np.array_equal(pixels(opened, one), look) for one, look in zip((pulse, beside), looks, strict=True))
