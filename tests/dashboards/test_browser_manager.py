"""Guards the manager's whole task in a browser: which machine, what has changed since last month, what is behind a
number, and handing it on.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page

import dashboards
from dashboards.pages.machines import ids as machines
from dashboards.pages.trends import ids as weeks
from dashboards.pages.week import ids as review
from tests.dashboards.browser import Opened, served
from tests.dashboards.histories import months
from tests.dashboards.test_browser_archive import wait_for_text, wait_for_title

SOON_MS = 60_000


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The pages of ten weeks of two machines."""
    with served(dashboards.create_app(months(tmp_path_factory.mktemp("months")))) as at:
        yield at


def column(page: Page, grid: str, name: str) -> list[str]:
    """The texts of a column as they stand on the screen, from the top."""
    rows = page.eval_on_selector_all(
        f"#{grid} .ag-row [col-id='{name}']",
        "cells => cells.map(one => [one.closest('.ag-row').rowIndex ?? Number(one.closest('.ag-row').getAttribute("
        "'row-index')), one.innerText])",
    )
    return [text for _, text in sorted(rows)]


def sort_by(page: Page, grid: str, name: str) -> None:
    page.click(f"#{grid} .ag-header-cell[col-id='{name}'] .ag-header-cell-label")


def test_from_the_yard_to_the_number_and_back(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.goto(address)
    wait_for_title(opened, "Machines")
    opened.wait_for_selector(f"#{machines.FLEET} .ag-row")
    assert column(opened, machines.FLEET, "machine") == ["SLAB-1", "DOCK-5"]  # who needs a person comes first
    sort_by(opened, machines.FLEET, "machine")
    opened.wait_for_selector(f"#{machines.FLEET} [col-id='machine'][aria-sort='ascending']")
    assert column(opened, machines.FLEET, "machine") == ["DOCK-5", "SLAB-1"]

    # what has changed since last month: nothing in the six weeks before, three in each of the last four
    said = opened.locator(".change", has_text="SLAB-1")
    assert "drop-out" in said.first.inner_text()
    assert "12 in 72 starts" in said.first.inner_text()
    said.first.locator("a:text-is('its weeks')").click()
    wait_for_title(opened, "Weeks of SLAB-1")
    wait_for_text(opened, weeks.TITLE, "drop-out")
    opened.wait_for_selector(f"#{weeks.NUMBERS} .ag-row")
    # three in 18 starts each: of the 20 runs the first of each contactor shows a state, not a start
    assert column(opened, weeks.NUMBERS, "count")[:5] == ["3", "3", "3", "3", "0"]

    opened.click(f"#{weeks.NUMBERS} a:text-is('2026-W22')")
    wait_for_title(opened, "Review of SLAB-1, 2026-W22")
    wait_for_text(opened, review.CHOSEN_TITLE, "drop-out, hoist: 1 of 3")  # the three of the table
    opened.go_back()
    wait_for_title(opened, "Weeks of SLAB-1")
    wait_for_text(opened, weeks.TITLE, "drop-out")
    opened.go_back()
    wait_for_title(opened, "Machines")
    assert complaints == []


def test_who_gets_the_address_sees_the_same(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    opened.goto(f"{address}/weeks?machine=SLAB-1")
    wait_for_text(opened, weeks.TITLE, "per 100 starts")
    opened.click(f"#{weeks.BASES} a:text-is('per running hour')")
    wait_for_text(opened, weeks.TITLE, "running hour")
    shared, seen = opened.url, opened.inner_text(f"#{weeks.WEEKLY_READING}")
    title = opened.inner_text(f"#{weeks.TITLE}")
    assert "per=running_h" in shared

    browser = opened.context.browser
    assert browser is not None
    other = browser.new_context().new_page()
    other.goto(shared)
    wait_for_text(other, weeks.TITLE, title)
    wait_for_text(other, weeks.WEEKLY_READING, seen)
    assert column(other, weeks.NUMBERS, "rate") == column(opened, weeks.NUMBERS, "rate")
    assert complaints == []


@pytest.mark.parametrize(
    ("path", "button", "name"),
    [("/machines", machines.SAVE, "machines.csv"), ("/weeks?machine=SLAB-1", weeks.SAVE, "weeks.csv")],
)
def test_a_table_is_taken_along(address: str, page: Opened, tmp_path: Path, path: str, button: str, name: str) -> None:
    opened, _, _ = page
    opened.goto(address + path)
    opened.wait_for_selector(f"#{button}", timeout=SOON_MS)
    opened.wait_for_selector(".ag-row")
    with opened.expect_download() as saved:
        opened.click(f"#{button}")
    saved.value.save_as(tmp_path / name)
    assert saved.value.suggested_filename == name
    rows = list(csv.reader(io.StringIO((tmp_path / name).read_text("utf-8-sig"))))
    if name == "machines.csv":
        assert {row[1] for row in rows[1:]} == {"SLAB-1", "DOCK-5"}
        assert "Life used" in rows[0]
    else:
        assert [row[0] for row in rows[1:]] == [f"2026-W{n}" for n in range(23, 13, -1)]
        starts = rows[0].index("Starts")
        assert {row[starts] for row in rows[1:]} == {"18"}
