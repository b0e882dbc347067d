"""Guards the page as a browser shows it: choosing a finding moves the lanes, and nothing is asked of other hosts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page

import dashboards
from dashboards import shell
from dashboards.pages.week import ids
from eventlens.wiring import review_log
from tests.causes.stories import loose_relay, of
from tests.dashboards.browser import Opened, served
from tests.dashboards.weeks import DROP_OUT, SAW, full, full_week
from tests.logs import HOIST, at, make_log, merged, pulse, run


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """The page of the small review."""
    with served(dashboards.create_app(full())) as at:
        yield f"{at}/"


def lanes(page: Page) -> dict[str, Any]:
    """Range [ms], marked spans and bars of the lanes as they are drawn."""
    return page.evaluate(  # type: ignore[no-any-return]
        """id => {
            const drawn = document.querySelector(`#${id} .js-plotly-plot`);
            const axis = drawn._fullLayout.xaxis;
            return {
                range: axis.range.map(place => axis.r2c(place)),
                marks: (drawn.layout.shapes || []).filter(shape => shape.name === "chosen occurrence")
                    .map(shape => [shape.x0, shape.x1]),
                ticks: Object.fromEntries(
                    drawn.layout.yaxis.ticktext.map((text, n) => [text, drawn.layout.yaxis.tickvals[n]])),
                on: drawn._fullData.filter(trace => trace.name === "on").flatMap(
                    trace => Array.from(trace.y, (y, n) => [y, trace.base[n], trace.x[n]])),
            };
        }""",
        ids.LANES,
    )


def wait_until_drawn(page: Page) -> None:
    page.wait_for_selector(f"#{ids.LANES} .main-svg")
    page.wait_for_function("id => document.getElementById(id)?.innerText.length > 0", arg=ids.LANES_READING)


def test_choosing_a_finding_shows_it_in_the_lanes(address: str, page: Opened) -> None:
    opened, complaints, asked = page
    opened.goto(address)
    wait_until_drawn(opened)
    whole = lanes(opened)
    assert whole["range"] == pytest.approx(full_week().whole)
    assert whole["marks"] == []

    opened.click("#findings .ag-row[row-id='drop_out/hoist/'] [col-id='pattern']")
    opened.wait_for_function("id => !document.getElementById(id).hidden", arg=ids.CHOSEN_PANEL)
    opened.wait_for_function(
        "id => document.getElementById(id)?.innerText.includes('Marked: drop-out')", arg=ids.LANES_READING
    )
    shown = lanes(opened)
    start, end = (at(second).timestamp() * 1000 for second in DROP_OUT)
    assert shown["range"][0] < start < end < shown["range"][1]
    assert shown["range"][1] - shown["range"][0] < 60_000  # zoomed, not only marked
    assert shown["marks"] == [[start, end]]
    raised = shown["ticks"]["raise contactor"]
    assert [start, end - start] in [bar[1:] for bar in shown["on"] if bar[0] == raised]
    assert "1 of 1" in opened.inner_text(f"#{ids.CHOSEN_TITLE}")
    assert opened.locator("#occurrences .ag-center-cols-container .ag-row").count() == 1

    opened.click(f"#{ids.WHOLE}")
    opened.wait_for_function("id => document.getElementById(id)?.innerText.startsWith('2 h')", arg=ids.LANES_READING)
    assert lanes(opened)["range"] == pytest.approx(full_week().whole)
    assert lanes(opened)["marks"] == [[start, end]]

    assert complaints == []
    assert {urlsplit(url).netloc for url in asked if not url.startswith(("data:", "blob:"))} == {
        urlsplit(address).netloc
    }
    charts = [url.rsplit("/", 1)[-1].split("?")[0] for url in asked if "plotly" in url.rsplit("/", 1)[-1]]
    assert charts == ["plotly-cartesian.min.js"], "the whole library is three times as large"


def test_stepping_through_occurrences_moves_list_and_lanes(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.goto(address)
    wait_until_drawn(opened)
    marks = []
    for pressed in (
        "#findings .ag-row[row-id='jogging/hoist/'] [col-id='pattern']",
        "#occurrences .ag-row[row-id='jogging/hoist/#2'] [col-id='start']",
        f"#{ids.PREVIOUS}",
        f"#{ids.NEXT}",
    ):
        before = opened.inner_text(f"#{ids.LANES_READING}")
        opened.click(pressed)
        opened.wait_for_function(
            "([id, old]) => document.getElementById(id)?.innerText !== old", arg=[ids.LANES_READING, before]
        )
        marks.append((opened.inner_text(f"#{ids.CHOSEN_TITLE}"), (lanes(opened)["marks"][0][0] / 1000)))
    first, second = at(2000).timestamp(), at(3000).timestamp()
    assert marks == [
        ("jogging, hoist: 1 of 2", first),
        ("jogging, hoist: 2 of 2", second),
        ("jogging, hoist: 1 of 2", first),
        ("jogging, hoist: 2 of 2", second),
    ]
    assert opened.locator("#occurrences .ag-center-cols-container .ag-row-selected").get_attribute("row-id") == (
        "jogging/hoist/#2"
    )
    assert complaints == []


def test_dragging_over_the_lanes_zooms(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.goto(address)
    wait_until_drawn(opened)
    area = opened.locator(f"#{ids.LANES} .nsewdrag").first
    area.scroll_into_view_if_needed()
    box, moved = area.bounding_box(), None
    while box != moved:  # a busy machine may still be laying the page out
        opened.wait_for_timeout(250)
        box, moved = area.bounding_box(), box
    assert box is not None
    before = lanes(opened)["range"]
    opened.mouse.move(box["x"] + 0.25 * box["width"], box["y"] + 20)
    opened.mouse.down()
    opened.mouse.move(box["x"] + 0.75 * box["width"], box["y"] + 20, steps=5)
    opened.mouse.up()
    opened.wait_for_function(
        "id => document.getElementById(id)?.innerText.startsWith('60')", arg=ids.LANES_READING
    )  # half of two hours
    width = before[1] - before[0]
    assert lanes(opened)["range"] == pytest.approx(
        [before[0] + 0.25 * width, before[0] + 0.75 * width], abs=0.01 * width
    )
    assert complaints == []


@pytest.mark.parametrize("width", [390, 1024, 1440])
def test_the_page_fits_its_screen_and_switches_its_colours(address: str, visited: Opened, width: int) -> None:
    opened, complaints, _ = visited
    opened.set_viewport_size({"width": width, "height": 900})
    opened.goto(address)
    wait_until_drawn(opened)
    assert opened.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.evaluate("document.documentElement.dataset.theme") == "light"
    ink = "id => document.querySelector(`#${id} .js-plotly-plot`).layout.font.color"
    light = opened.evaluate(ink, ids.LANES)
    opened.click(f"#{shell.SWITCH}")
    opened.wait_for_function(
        "old => document.querySelector('#lanes .js-plotly-plot').layout.font.color !== old", arg=light
    )
    assert opened.evaluate("document.documentElement.dataset.theme") == "dark"
    assert complaints == []


def test_what_came_of_a_check_goes_into_the_address_and_comes_back_out(page: Opened) -> None:
    opened, complaints, _ = page
    shown = f"document.getElementById('{ids.CAUSES}').innerText"
    with served(dashboards.create_app(of(loose_relay()))) as at_:
        opened.goto(f"{at_}/")
        opened.wait_for_selector("[data-outcome]")
        before = opened.evaluate(shown)
        opened.click("[data-outcome$='=negative']")
        opened.wait_for_function(f"{shown}.includes('Checks that were made')")
        assert opened.evaluate(shown) != before
        assert "checked=" in opened.url

        opened.reload()
        opened.wait_for_selector(f"#{ids.CAUSES}")
        opened.wait_for_function(f"{shown}.includes('Checks that were made')")
        opened.go_back()
        opened.wait_for_function(f"!{shown}.includes('Checks that were made')")
        opened.go_forward()
        opened.wait_for_function(f"{shown}.includes('Checks that were made')")
        opened.click("[data-back]")
        opened.wait_for_function(f"!{shown}.includes('Checks that were made')")
    assert complaints == []


def shown_motion(page: Page, name: str, count: str) -> None:
    """Waits until the work of a motion is shown: its choice, and its own number of starts."""
    page.wait_for_selector(f"#{ids.MOTION} label:has-text('{name}') input:checked", state="attached")
    page.wait_for_function("([id, text]) => document.getElementById(id)?.innerText.includes(text)",
                           arg=[ids.STARTS_READING, count])  # fmt: skip


def test_the_chosen_motion_is_in_the_address_and_survives_reload_and_back(page: Opened) -> None:
    opened, complaints, _ = page
    trolley = [pulse("trolley.left.contactor", *((t, t + 5.0) for t in range(100, 1000, 100)))]
    records = merged(*(run(t, t + 8) for t in range(60, 300, 60)), *trolley)
    review = review_log(make_log(records, end=7200.0, carries=HOIST, rhythm_s=60.0), SAW)
    with served(dashboards.create_app(review)) as at:
        opened.goto(f"{at}/review")
        shown_motion(opened, "Hoist", "At most 4 starts")
        opened.click(f"#{ids.MOTION} label:has-text('Trolley')")
        shown_motion(opened, "Trolley", "At most 9 starts")
        opened.wait_for_function("location.search === '?motion=trolley'")
        opened.reload()
        shown_motion(opened, "Trolley", "At most 9 starts")
        assert opened.url.endswith("?motion=trolley")
        opened.click(f"#{ids.MOTION} label:has-text('Hoist')")
        opened.wait_for_function("location.search === ''")
        opened.go_back()
        shown_motion(opened, "Trolley", "At most 9 starts")
        opened.goto(f"{at}/review?motion=bridge")  # a motion that this log does not have
        shown_motion(opened, "Hoist", "At most 4 starts")
    assert complaints == []
