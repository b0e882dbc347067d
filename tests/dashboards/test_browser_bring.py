"""Guards the technician's whole task in a browser: bring a dump in, correct a signal, review, find the fault; and what
goes wrong on the way."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page

import dashboards
from dashboards.pages.bring import ids
from eventlens.simulation import Scenario, signals_of, simulate
from eventlens.simulation.dialects import DIALECTS
from tests.dashboards.browser import Opened, served
from tests.dashboards.histories import dump, kept
from tests.dashboards.test_browser_accessible import violations

SOON_MS = 60_000
PHOTO = b"\x89PNG\r\n\x1a\n" + bytes(range(256))


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Pages without a log."""
    with served(dashboards.create_app(None, folder=tmp_path_factory.mktemp("kept"))) as at:
        yield at


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One day of a machine in order, a row for each change; seeded."""
    simulated = simulate(Scenario(signals=signals_of(("hoist",), load=False)), seed=1, days=1)
    return DIALECTS["changes"].write(simulated.recording, tmp_path_factory.mktemp("day") / "day.csv", "UTC")


def bring(opened: Page, address: str, *files: str | Path | dict[str, object]) -> None:
    opened.goto(f"{address}/bring")
    opened.wait_for_selector("#bring-input", timeout=SOON_MS)
    opened.set_input_files("#bring-input", list(files))  # type: ignore[arg-type]


def row(name: str, column: str) -> str:
    return f"#{ids.NAMES} .ag-row[row-id='{name}'] [col-id='{column}']"


def test_from_the_dump_to_the_review(address: str, day: Path, page: Opened) -> None:
    opened, complaints, asked = page
    bring(opened, address, day)
    opened.wait_for_selector(row("S7", "signal"), timeout=SOON_MS)
    assert opened.inner_text(row("K11", "signal")) == "hoist.raise.contactor"

    opened.click(row("B3", "changes"))  # what did it do?
    opened.wait_for_selector(f"#{ids.LANES} .main-svg", timeout=SOON_MS)
    opened.wait_for_function(
        "id => document.getElementById(id).innerText.includes('change 1 of')", arg=ids.LANES_READING
    )
    opened.click(f"#{ids.LATER}")
    opened.wait_for_function(
        "id => document.getElementById(id).innerText.includes('change 2 of')", arg=ids.LANES_READING
    )

    opened.click(row("S7", "signal"))  # a proposal is corrected
    opened.click(f"#{ids.NAMES} .ag-cell-editor .ag-picker-field-wrapper")
    opened.click(".ag-select-list-item:has-text('hoist.lower.limit')")
    assert opened.inner_text(row("S7", "signal")) == "hoist.lower.limit"
    opened.wait_for_function("id => document.getElementById(id).innerText.includes('S7: lower limit')", arg=ids.LANES)

    opened.fill("#bring-id", "SAW-9")
    opened.click(f"#{ids.REVIEW}")
    opened.wait_for_url("**/review?dump=*", timeout=SOON_MS)
    opened.wait_for_selector("h1:has-text('SAW-9')", timeout=SOON_MS)
    opened.wait_for_function("document.querySelector('main').textContent.includes('lower limit')", timeout=SOON_MS)
    assert "raise limit" not in str(opened.text_content("#lanes-box"))

    opened.reload()  # the address is the review
    opened.wait_for_selector("h1:has-text('SAW-9')", timeout=SOON_MS)
    assert complaints == []
    assert {urlsplit(url).netloc for url in asked if not url.startswith(("data:", "blob:"))} == {
        urlsplit(address).netloc
    }


def test_another_visitor_sees_nothing_of_it(address: str, day: Path, page: Opened) -> None:
    opened, _, _ = page
    bring(opened, address, day)
    opened.wait_for_selector(row("K11", "signal"), timeout=SOON_MS)
    shared = opened.url
    assert opened.context.browser is not None
    other = opened.context.browser.new_context().new_page()
    for url in (shared, shared.replace("/bring?", "/review?")):
        other.goto(url)
        other.wait_for_function("document.body.innerText.includes('is not there')", timeout=SOON_MS)
    other.goto(f"{address}/bring")
    other.wait_for_selector("#bring-input", timeout=SOON_MS)
    assert "Brought in before" not in other.inner_text("main")


def test_a_file_that_is_no_log_is_said_in_one_sentence(address: str, page: Opened) -> None:
    opened, complaints, _ = page
    bring(opened, address, {"name": "<b>photo.csv", "mimeType": "text/csv", "buffer": PHOTO})
    fault = opened.wait_for_selector(".fault", timeout=SOON_MS)
    assert fault is not None
    said = fault.inner_text()
    assert "wanted" in said
    assert said.startswith("b_photo.csv")  # not where it lies
    assert "<b>photo.csv" in opened.inner_text("h2 >> nth=0")  # a name is only text
    assert complaints == []


def test_from_the_review_into_the_archive(tmp_path: Path, page: Opened) -> None:
    """The archive that is shown gets the dump, and its machine's weeks show it."""
    archive = kept(tmp_path)
    opened, complaints, _ = page
    with served(dashboards.create_app(archive, folder=tmp_path / "brought")) as at:
        bring(opened, at, dump(tmp_path / "14.csv", 14, dropping=True))
        opened.wait_for_selector(f"#{ids.REVIEW}", timeout=SOON_MS)
        assert opened.locator(f"#{ids.ADD}").count() == 0  # not before it was reviewed
        opened.fill("#bring-id", "DOCK-5")
        opened.click(f"#{ids.REVIEW}")
        opened.wait_for_url("**/review?dump=*", timeout=SOON_MS)
        opened.click("a:text-is('Add it to the archive')", timeout=SOON_MS)
        opened.wait_for_selector(f"#{ids.ADD}", timeout=SOON_MS)
        assert violations(opened) == []
        opened.click(f"#{ids.ADD}")
        opened.wait_for_selector(f"#{ids.INTO} :text('1 new dump')", timeout=SOON_MS)
        opened.click(f"#{ids.INTO} a:text-is('Review of 2026-W16')")
        opened.wait_for_selector("h1:has-text('Review of DOCK-5, 2026-W16')", timeout=SOON_MS)
        assert archive.contents().filter(machine="DOCK-5")["dumps"].sum() == 3
    assert complaints == []


def test_an_empty_file_is_refused_before_anything_is_kept(address: str, page: Opened) -> None:
    opened, _, _ = page
    bring(opened, address, {"name": "empty.csv", "mimeType": "text/csv", "buffer": b""})
    opened.wait_for_function("document.querySelector('#bring-drop').innerText.includes('is empty')", timeout=SOON_MS)
    assert "/bring?" not in opened.url


def test_what_is_no_profile_is_said_and_the_table_stays(address: str, day: Path, page: Opened) -> None:
    opened, _, _ = page
    bring(opened, address, day)
    opened.wait_for_selector(row("K11", "signal"), timeout=SOON_MS)
    wrong = {"name": "p.toml", "mimeType": "text/plain", "buffer": b'[signals]\n"K11" = "hoist.rise.contactor"\n'}
    opened.set_input_files(f"#{ids.PROFILE_FILE}-input", [wrong])  # type: ignore[list-item]
    opened.wait_for_function(
        "id => document.getElementById(id).innerText.includes('hoist.raise.contactor')",
        arg=ids.PROFILE_TOLD,
        timeout=SOON_MS,
    )
    assert opened.inner_text(row("K11", "signal")) == "hoist.raise.contactor"


def test_it_fits_a_phone(address: str, day: Path, page: Opened) -> None:
    opened, _, _ = page
    opened.set_viewport_size({"width": 390, "height": 844})
    bring(opened, address, day)
    opened.click(row("K11", "name"), timeout=SOON_MS)
    opened.wait_for_selector(f"#{ids.LANES} .main-svg", timeout=SOON_MS)
    assert opened.evaluate("document.documentElement.scrollWidth") <= 390


def test_behind_a_password_a_file_is_taken_from_nobody_else(tmp_path: Path, day: Path) -> None:
    from werkzeug.security import generate_password_hash

    word = "slow brake, warm coil"
    app = dashboards.create_app(None, folder=tmp_path, password_hash=generate_password_hash(word))
    origin = {"Origin": "http://localhost"}
    stranger, friend = app.server.test_client(), app.server.test_client()
    content = day.read_bytes()
    assert stranger.put("/bring/file?name=a.csv", data=content, headers=origin).status_code == 401
    assert friend.post("/enter", data={"password": word}, headers=origin).status_code == 303
    assert friend.put("/bring/file?name=a.csv", data=content).status_code == 403  # from a page of another site
    taken = friend.put("/bring/file?name=a.csv&modified=x", data=content, headers=origin)
    assert (taken.status_code, list(taken.get_json())) == (200, ["dump"])
    assert len(list(tmp_path.rglob("a.csv"))) == 1
