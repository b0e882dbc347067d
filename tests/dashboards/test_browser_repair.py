"""Guards the pages of a repair and of the report in a browser: from the review to the answer and to the file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

import dashboards
from dashboards.pages.repair import ids as repair
from dashboards.pages.report import ids as report
from tests.dashboards.browser import Opened, served, settle
from tests.dashboards.histories import kept
from tests.dashboards.test_browser_archive import wait_for_text, wait_for_title

SOON_MS = 60_000


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The pages of the small archive."""
    with served(dashboards.create_app(kept(tmp_path_factory.mktemp("kept")))) as at:
        yield at


@pytest.fixture
def page(page: Opened) -> Opened:
    """The same; here the server thinks for longer."""
    page[0].set_default_timeout(SOON_MS)
    return page


def test_from_the_review_to_what_the_repair_has_changed(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.goto(f"{address}/review?machine=SLAB-1&week=2026-W15")
    wait_for_title(opened, "Review of SLAB-1, 2026-W15")
    opened.click("nav[aria-label='More of this review'] a:text-is('After a repair')")
    wait_for_title(opened, "After a repair of SLAB-1")
    wait_for_text(opened, repair.RESULT, "3 in 20 starts")
    opened.wait_for_selector(f"#{repair.RATIOS} .main-svg")
    opened.wait_for_selector(f"#{repair.TIMES} .main-svg")

    opened.fill(f"#{repair.AT}", "2026-04-01 12:00")  # another time, by the keyboard
    opened.press(f"#{repair.AT}", "Enter")
    opened.wait_for_function("location.search.includes('at=2026-04-01')")
    wait_for_text(opened, repair.RESULT, "to 2026-04-01 12:00")
    opened.go_back()
    opened.wait_for_function("!location.search.includes('at=')")
    wait_for_text(opened, repair.RESULT, "to 2026-04-03 10:00")
    assert complaints == []


def test_places_between_which_a_part_moved_stand_in_the_address(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.goto(f"{address}/repair?machine=SLAB-1&moved=hoist.raise:hoist.lower")
    wait_for_text(opened, repair.MOVED, "hoist.raise")
    assert "raise" in opened.inner_text(f"#{repair.FIRST}")
    opened.click(f"#{repair.SECOND}")
    opened.click(".dash-dropdown-option:has-text('hoist: fast')")
    opened.wait_for_function("decodeURIComponent(location.search).includes('moved=hoist.raise:hoist.fast')")
    wait_for_text(opened, repair.MOVED, "hoist.fast")
    opened.go_back()
    wait_for_text(opened, repair.MOVED, "hoist.lower")
    assert complaints == []


def test_a_report_is_chosen_and_taken_along(address: str, page: Opened, tmp_path: Path) -> None:
    opened, complaints, _ = page
    opened.goto(f"{address}/report?machine=SLAB-1&week=2026-W15")
    wait_for_title(opened, "Report of SLAB-1")
    opened.click(f"#{report.LANGUAGE} label:has-text('Deutsch')")
    opened.wait_for_function("location.search.includes('language=de')")
    opened.click(f"#{report.SECTIONS} label:has-text('Life')")
    opened.wait_for_function("location.search.includes('sections=')")
    opened.wait_for_selector(f"#{report.LINKS} a[href*='language=de'][href*='sections=']")
    with opened.expect_download() as saved:
        opened.click(f"#{report.LINKS} a:text-is('Save the PDF')")
    saved.value.save_as(tmp_path / "week.pdf")
    assert saved.value.suggested_filename == "SLAB-1-2026-W15.pdf"
    assert (tmp_path / "week.pdf").read_bytes().startswith(b"%PDF-")
    opened.go_back()
    opened.wait_for_selector(f"#{report.LINKS} a[href*='language=de']:not([href*='sections='])")
    opened.wait_for_function(
        "id => [...document.querySelectorAll(`#${id} input`)].every(box => box.checked)", arg=report.SECTIONS
    )
    with opened.expect_popup() as shown:
        opened.click(f"#{report.LINKS} a:text-is('Open it as a page')")
    shown.value.wait_for_selector("html[lang=de] #cautions")
    assert complaints == []


@pytest.mark.parametrize("width", [390, 1440])
@pytest.mark.parametrize("path", ["/repair?machine=SLAB-1", "/repair?machine=DOCK-5", "/report?machine=SLAB-1"])
def test_the_pages_fit_and_every_control_has_a_name(address: str, visited: Opened, path: str, width: int) -> None:
    opened, complaints, _ = visited
    opened.set_viewport_size({"width": width, "height": 900})
    opened.goto(f"{address}{path}")
    opened.wait_for_selector("main h1")
    if path == "/repair?machine=SLAB-1":
        opened.wait_for_selector(f"#{repair.TIMES} .main-svg")
    settle(opened)
    assert opened.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.locator("h1").count() == 1
    nameless = opened.evaluate(
        """() => [...document.querySelectorAll("button, a[href], input, [role=img], nav, [role=region]")]
            .filter(part => part.offsetParent !== null && part.getAttribute("aria-hidden") !== "true")
            .filter(part => !(part.innerText || "").trim() && !part.getAttribute("aria-label")
                && !(part.labels && part.labels.length))
            .map(part => part.outerHTML.slice(0, 120))"""
    )
    assert nameless == []
    assert complaints == []
