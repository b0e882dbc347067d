"""Guards that everybody can use the pages: axe-core finds nothing on any of them, in light and dark colours."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page
from werkzeug.security import generate_password_hash

import dashboards
from dashboards.pages.bring import ids as bring
from dashboards.pages.week import ids as review
from eventlens.simulation import Scenario, signals_of, simulate
from eventlens.simulation.dialects import DIALECTS
from tests.dashboards.browser import Opened, served, settle
from tests.dashboards.histories import kept
from tests.dashboards.weeks import full

SOON_MS = 60_000
RUN = """async () => (await axe.run()).violations.map(one =>
    [one.id, one.impact, one.nodes.slice(0, 3).map(node => node.html.slice(0, 120))])"""

PAGES = [
    "/machines",
    "/weeks?machine=SLAB-1",
    "/review?machine=SLAB-1&week=2026-W15",
    "/bring",
    "/repair?machine=SLAB-1",
    "/report?machine=SLAB-1",
    "/nowhere",
]
SMALL = """() => [...document.querySelectorAll("main button, nav a, header button, main input, main summary")]
    .filter(one => !one.closest(".ag-root, label, [aria-hidden=true]") && one.getAttribute("aria-hidden") !== "true")
    .map(one => [one.outerHTML.slice(0, 80), one.getBoundingClientRect()])
    .filter(([_, box]) => box.width > 0 && (box.width < 24 || box.height < 24)).map(([text, _]) => text)"""
"""Controls under 24 px (WCAG 2.2, 2.5.8), lists and boxes within their label apart."""


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The pages of a small archive, to which dumps may be brought in."""
    folder = tmp_path_factory.mktemp("kept")
    with served(dashboards.create_app(kept(folder), folder=folder / "brought")) as at:
        yield at


@pytest.fixture(scope="module")
def one_review() -> Iterator[str]:
    """The page of one review."""
    with served(dashboards.create_app(full())) as at:
        yield at


@pytest.fixture(scope="module")
def locked() -> Iterator[str]:
    """Pages behind a password."""
    with served(dashboards.create_app(full(), password_hash=generate_password_hash("slow brake, warm coil"))) as at:
        yield at


@pytest.fixture(params=["light", "dark"])
def page(request: pytest.FixtureRequest, visited: Opened) -> Opened:
    """In light and in dark colours."""
    visited[0].emulate_media(color_scheme=request.param)
    return visited


def violations(page: Page) -> Any:
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8"))
    return page.evaluate(RUN)


@pytest.mark.parametrize("at", PAGES)
def test_pages_of_an_archive(archive: str, page: Opened, at: str) -> None:
    opened, _, _ = page
    opened.goto(archive + at)
    opened.wait_for_selector("main h1", timeout=SOON_MS)
    settle(opened)
    assert violations(opened) == []


@pytest.mark.parametrize("at", PAGES)
def test_a_screen_of_320_px_scrolls_one_way_and_its_controls_can_be_hit(archive: str, visited: Opened, at: str) -> None:
    """Reflow and target size (WCAG 2.2, 1.4.10 and 2.5.8)."""
    opened, _, _ = visited
    opened.set_viewport_size({"width": 320, "height": 800})
    opened.goto(archive + at)
    opened.wait_for_selector("main h1", timeout=SOON_MS)
    settle(opened)
    assert opened.evaluate("document.documentElement.scrollWidth") <= 320
    assert opened.evaluate(SMALL) == []


def test_a_review_with_a_chosen_finding(one_review: str, page: Opened) -> None:
    opened, _, _ = page
    opened.goto(one_review)
    opened.click("#findings .ag-row[row-id='drop_out/hoist/'] [col-id='pattern']", timeout=SOON_MS)
    opened.wait_for_function("id => !document.getElementById(id).hidden", arg=review.CHOSEN_PANEL)
    settle(opened)
    assert violations(opened) == []


def test_a_dump_that_is_being_brought_in(archive: str, page: Opened, tmp_path: Path) -> None:
    simulated = simulate(Scenario(signals=signals_of(("hoist",), load=False)), seed=1, days=1)
    day = DIALECTS["changes"].write(simulated.recording, tmp_path / "day.csv", "UTC")
    opened, _, _ = page
    opened.goto(f"{archive}/bring")
    opened.wait_for_selector("#bring-input", timeout=SOON_MS)
    opened.set_input_files("#bring-input", day)
    opened.click(f"#{bring.NAMES} .ag-row[row-id='K11'] [col-id='name']", timeout=SOON_MS)
    opened.wait_for_selector(f"#{bring.LANES} .main-svg", timeout=SOON_MS)
    assert violations(opened) == []


def test_the_page_that_asks_for_the_password(locked: str, page: Opened) -> None:
    opened, _, _ = page
    opened.goto(locked)
    opened.wait_for_selector("#password")
    assert violations(opened) == []
