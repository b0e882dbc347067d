"""Guards the pages of an archive as a browser shows them: from machines to signals and back, and by address alone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page

import dashboards
from dashboards import shell
from dashboards.pages.machines import ids as machines
from dashboards.pages.trends import ids as weeks
from dashboards.pages.week import ids as review
from tests.dashboards.browser import Opened, served, settle
from tests.dashboards.histories import kept

TITLE = "document.querySelector('main h1').innerText"
REVIEW = "/review?machine=SLAB-1&week=2026-W15"


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The pages of the small archive."""
    with served(dashboards.create_app(kept(tmp_path_factory.mktemp("kept")))) as at:
        yield at


def wait_for_title(page: Page, title: str) -> None:
    page.wait_for_function(f"title => document.querySelector('main h1') && {TITLE} === title", arg=title)


def wait_for_text(page: Page, part: str, text: str) -> None:
    page.wait_for_function("([id, text]) => document.getElementById(id)?.innerText.includes(text)", arg=[part, text])


def test_from_the_machines_to_the_signals_and_back(address: str, page: Opened) -> None:
    opened, complaints, asked = page
    opened.goto(address)
    wait_for_title(opened, "Machines")
    opened.click(f"#{machines.FLEET} a:text-is('SLAB-1')")
    wait_for_title(opened, "Weeks of SLAB-1")
    opened.click(f"#{weeks.NUMBERS} a:text-is('2026-W15')")
    wait_for_title(opened, "Review of SLAB-1, 2026-W15")
    wait_for_text(opened, review.CHOSEN_TITLE, "drop-out, hoist: 1 of 3")  # the week's number leads to its finding
    wait_for_text(opened, review.LANES_READING, "Marked: drop-out, 1 of 3")
    opened.click(f"#{review.NEXT}")
    wait_for_text(opened, review.CHOSEN_TITLE, "drop-out, hoist: 2 of 3")
    opened.wait_for_function("location.search.includes('number=2')")

    opened.go_back()
    wait_for_text(opened, review.CHOSEN_TITLE, "drop-out, hoist: 1 of 3")
    opened.go_back()
    wait_for_title(opened, "Weeks of SLAB-1")
    opened.go_back()
    wait_for_title(opened, "Machines")
    assert urlsplit(opened.url).path == "/"
    assert complaints == []
    assert {urlsplit(url).netloc for url in asked if not url.startswith(("data:", "blob:"))} == {
        urlsplit(address).netloc
    }


def test_a_shared_address_opens_the_same_view(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.goto(f"{address}{REVIEW}&finding=drop_out/hoist/&number=3")
    wait_for_text(opened, review.LANES_READING, "Marked: drop-out, 3 of 3")
    opened.wait_for_function("location.search.includes('view=')")
    before = [review.LANES_READING, opened.inner_text(f"#{review.LANES_READING}"), opened.url]
    opened.click(f"#{review.ZOOM_OUT}")
    opened.wait_for_function(
        "([id, text, url]) => location.href !== url && document.getElementById(id).innerText !== text", arg=before
    )
    reading = opened.inner_text(f"#{review.LANES_READING}")
    shared = opened.url
    opened.goto("about:blank")
    opened.goto(shared)
    wait_for_text(opened, review.CHOSEN_TITLE, "drop-out, hoist: 3 of 3")
    wait_for_text(opened, review.LANES_READING, reading)
    assert complaints == []


def test_going_back_to_no_choice_takes_the_mark_away(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.goto(f"{address}{REVIEW}")
    opened.click(f"#{review.FINDINGS} .ag-row[row-id='drop_out/hoist/'] [col-id='pattern']")
    wait_for_text(opened, review.LANES_READING, "Marked: drop-out")
    opened.wait_for_function("location.search.includes('finding=')")  # once it is drawn
    opened.go_back()
    opened.wait_for_function("id => document.getElementById(id).hidden", arg=review.CHOSEN_PANEL)
    opened.wait_for_function(
        "id => !document.getElementById(id).innerText.includes('Marked')", arg=review.LANES_READING
    )
    # and the same finding can be chosen again
    opened.click(f"#{review.FINDINGS} .ag-row[row-id='drop_out/hoist/'] [col-id='pattern']")
    wait_for_text(opened, review.LANES_READING, "Marked: drop-out")
    assert complaints == []


@pytest.mark.parametrize("width", [390, 1024, 1440])
@pytest.mark.parametrize("path", ["/", "/weeks?machine=SLAB-1", REVIEW, "/nowhere"])
def test_every_page_fits_its_screen(address: str, visited: Opened, path: str, width: int) -> None:
    opened, complaints, _ = visited
    opened.set_viewport_size({"width": width, "height": 900})
    opened.goto(f"{address}{path}")
    opened.wait_for_selector("main h1")
    settle(opened)
    assert opened.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.locator("h1").count() == 1
    assert complaints == []


def test_every_control_has_a_name(address: str, visited: Opened) -> None:
    opened, _, _ = visited
    for path in ("/", "/weeks?machine=SLAB-1", REVIEW):
        opened.goto(f"{address}{path}")
        opened.wait_for_selector("main h1")
        settle(opened)
        nameless = opened.evaluate(
            """() => [...document.querySelectorAll("button, a[href], input, [role=img], nav, [role=region]")]
                .filter(part => part.offsetParent !== null && !part.closest(".ag-root-wrapper"))
                .filter(part => !(part.innerText || "").trim() && !part.getAttribute("aria-label")
                    && !(part.labels && part.labels.length))
                .map(part => part.outerHTML.slice(0, 120))"""
        )
        assert nameless == [], path


def test_the_keyboard_alone_leads_from_page_to_page(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.goto(address)
    wait_for_title(opened, "Machines")
    opened.wait_for_selector(f"#{machines.FLEET} a:text-is('SLAB-1')")
    opened.keyboard.press("Tab")
    assert opened.evaluate("document.activeElement.innerText") == "Skip to the page"
    opened.focus(f"#{machines.FLEET} .ag-row:has(a:text-is('SLAB-1')) [col-id='machine']")
    opened.keyboard.press("Enter")
    wait_for_title(opened, "Weeks of SLAB-1")
    opened.wait_for_function(f"document.activeElement.id === '{shell.CONTENT}'")
    assert opened.title() == "SLAB-1: weeks · eventlens"
    assert complaints == []


def test_the_machines_can_be_narrowed_and_saved(address: str, visited: Opened, tmp_path: Path) -> None:
    opened, complaints, _ = visited
    opened.goto(address)
    opened.wait_for_selector(f"#{machines.FLEET} a:text-is('SLAB-1')")
    with opened.expect_download() as saved:
        opened.click(f"#{machines.SAVE}")
    saved.value.save_as(tmp_path / "machines.csv")
    lines = (tmp_path / "machines.csv").read_text("utf-8-sig").splitlines()
    assert lines[0].startswith('"Place","Machine","Asks for","Because of"')
    assert {line.split(",")[1] for line in lines[1:]} == {'"DOCK-5"', '"SLAB-1"'}
    opened.fill(f"#{machines.FILTER}", "SLAB")
    opened.wait_for_function(
        "id => document.querySelectorAll(`#${id} .ag-center-cols-container .ag-row`).length === 1", arg=machines.FLEET
    )
    assert complaints == []


def test_on_a_telephone_cautions_stand_right_above_what_sends_somebody_to_the_machine(
    address: str, visited: Opened
) -> None:
    opened, _, _ = visited
    above = """() => {
        const causes = document.querySelector("#causes").getBoundingClientRect();
        const near = [...document.querySelectorAll(".cautions")].map(one => one.getBoundingClientRect())
            .filter(box => box.height > 0 && box.bottom <= causes.top + 1);
        return causes.top - Math.max(...near.map(box => box.bottom));
    }"""
    opened.set_viewport_size({"width": 390, "height": 844})
    opened.goto(f"{address}{REVIEW}")
    opened.wait_for_selector("#causes h2")
    settle(opened)
    assert opened.evaluate(above) < 40
    opened.set_viewport_size({"width": 1440, "height": 1000})
    assert opened.locator(".narrow-only").is_hidden()
    for path in ("/machines", "/weeks?machine=SLAB-1"):  # there they follow what has changed
        opened.set_viewport_size({"width": 390, "height": 844})
        opened.goto(f"{address}{path}")
        opened.wait_for_selector(".cautions")
        gap = opened.evaluate("""() => document.querySelector(".cautions").getBoundingClientRect().top
            - document.querySelector(".pair .panel").getBoundingClientRect().bottom""")
        assert gap < 40
