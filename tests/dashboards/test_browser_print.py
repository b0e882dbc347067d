"""Guards what goes on paper: what was found is there and whole, nothing to press is, and the screen comes back."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

import dashboards
from dashboards.pages.machines import ids as machines
from dashboards.pages.week import ids as review
from tests.dashboards.browser import Opened, served, settle
from tests.dashboards.histories import kept
from tests.dashboards.test_browser_archive import wait_for_text

PAPER_PX = 703
"""A4 less the margins of the style sheet: 186 mm at 96 px to the inch."""
CONTROLS = [
    "Bring a dump in",
    "After a repair",
    "Dark colours",
    "Save as CSV",
    "Show only machines",
    "Zoom in",
    "Skip to",
]
REVIEW = "/review?machine=SLAB-1&week=2026-W15&finding=drop_out/hoist/&number=2"


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The pages of the small archive."""
    folder = tmp_path_factory.mktemp("kept")
    with served(dashboards.create_app(kept(folder), folder=folder / "brought")) as at:
        yield at


def open_at(page: Page, address: str) -> None:
    page.goto(address)
    page.wait_for_selector("main h1")
    settle(page)


def printed(page: Page) -> str:
    """The text of the page on paper."""
    pdf = page.pdf(format="A4", prefer_css_page_size=True, print_background=False)
    text = " ".join(one.extract_text() for one in PdfReader(io.BytesIO(pdf)).pages)
    return re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text))  # fi is one letter in some fonts


def test_a_review_on_paper(address: str, visited: Opened) -> None:
    opened, complaints, _ = visited
    open_at(opened, address + REVIEW)
    wait_for_text(opened, review.LANES_READING, "Marked: drop-out, 2 of 3")
    text = printed(opened)
    for wanted in (
        "Review of SLAB-1, 2026-W15",
        "drop-out, hoist: 2 of 3",
        "Before anyone touches the machine",
        "Proof: source lines",
        "Marked: drop-out, 2 of 3",
        "machine=SLAB-1",
        "Times: UTC.",
    ):
        assert wanted in text
    assert not [control for control in CONTROLS if control in text]
    # all three occurrences stand in the list, with their times: runs 4, 8 and 12 of the dump, by hand
    assert re.search(r"20:24.*20:48.*21:12", text)
    assert complaints == []


def test_the_fleet_on_paper_has_every_machine_with_its_last_column(address: str, visited: Opened) -> None:
    opened, complaints, _ = visited
    open_at(opened, f"{address}/machines")
    text = printed(opened)
    assert text.count("2026-W15") >= 2  # the latest review of both
    for wanted in ("Who needs a person first", "DOCK-5", "SLAB-1", "Latest review", "Weeks begin on Monday at 00:00"):
        assert wanted in text
    assert not [control for control in CONTROLS if control in text]
    assert complaints == []


@pytest.mark.parametrize("at", ["/machines", "/weeks?machine=SLAB-1", REVIEW, "/report?machine=SLAB-1"])
def test_nothing_is_wider_than_the_paper(address: str, visited: Opened, at: str) -> None:
    opened, _, _ = visited
    opened.emulate_media(color_scheme="dark")
    open_at(opened, address + at)
    opened.set_viewport_size({"width": PAPER_PX, "height": 1000})
    opened.emulate_media(media="print", color_scheme="dark")
    settle(opened)
    assert opened.evaluate("document.documentElement.scrollWidth") <= PAPER_PX
    wide = "e => e.map(one => one.getBoundingClientRect().right).filter(right => right > innerWidth + 1)"
    assert opened.eval_on_selector_all(".js-plotly-plot, table.on-paper, .panel", wide) == []
    assert opened.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"


def test_the_screen_is_as_it_was_afterwards(address: str, visited: Opened) -> None:
    opened, complaints, _ = visited
    open_at(opened, address + REVIEW)
    opened.wait_for_function("location.search.includes('view=')")
    opened.wait_for_selector(f"#{review.STARTS_BOX} .js-plotly-plot")
    opened.wait_for_selector(f"#{review.TIMES} .js-plotly-plot")
    measure = """() => [location.href, ...[...document.querySelectorAll(".js-plotly-plot")]
        .map(one => Math.round(one.getBoundingClientRect().width))]"""
    before = opened.evaluate(measure)
    opened.emulate_media(media="print")
    opened.wait_for_selector("table.on-paper")
    opened.emulate_media(media="screen")
    settle(opened)
    assert opened.evaluate(measure) == before
    assert opened.locator("table.on-paper, .off-paper").count() == 0
    assert complaints == []


def test_the_control_prints_the_page(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.add_init_script("window.print = () => { window.printed = (window.printed || 0) + 1; }")
    open_at(opened, f"{address}/machines")
    opened.click("button:text-is('Print')")
    assert opened.evaluate("window.printed") == 1
    assert opened.locator(f"#{machines.FLEET}").is_visible()
    assert complaints == []
