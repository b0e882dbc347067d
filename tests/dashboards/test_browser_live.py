"""Guards the live page in a browser: a finding of a machine that is followed appears by itself, and leads to its
signals; nobody is asked where nobody looks; everybody can use it, and a hostile log is only text.
"""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Page

import dashboards
from dashboards import shell
from dashboards.pages.live import ids
from dashboards.pages.week import ids as review
from eventlens import Archive
from eventlens.live import word
from eventlens.signals import ALL
from tests.cli.runner import ROOT, command, ordinary, write_log
from tests.dashboards.browser import Opened, browsing, served, settle
from tests.dashboards.followed import HOSTILE, followed, message, noted
from tests.dashboards.test_browser_accessible import SMALL, violations
from tests.dashboards.test_browser_archive import wait_for_text, wait_for_title
from tests.logs import at

SOON_S = 60.0


@pytest.fixture
def page() -> Iterator[Opened]:
    with browsing() as opened:
        opened[0].set_default_timeout(SOON_S * 1000)
        yield opened


@contextmanager
def following(log: Path, archive: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Somebody who follows a log into an archive, in a process of his own."""
    machine = log.with_suffix(".toml")
    machine.write_text('[machine]\nid = "SAW-3"\ngroup = "M5"\n')
    given = ("--machine", machine, "--archive", archive, "--state", log.with_suffix(".follow"), "--quiet")
    with subprocess.Popen(command("follow", log, *given), cwd=ROOT, env=os.environ) as process:
        try:
            until = time.monotonic() + SOON_S
            while not word.boards(archive) and time.monotonic() < until:
                time.sleep(0.05)
            yield process
        finally:
            process.kill()


def asks(page: Page, asked: list[str], seconds: float) -> int:
    """How often the page asks the server in so many seconds."""
    before = len(asked)
    page.wait_for_timeout(seconds * 1000)
    return len(asked) - before


def test_a_finding_appears_by_itself_and_nobody_is_asked_where_nobody_looks(tmp_path: Path, page: Opened) -> None:
    opened, complaints, asked = page
    records = ordinary()
    later = [record for record in records if record[0] > 40]  # the run that drops out
    log = write_log(tmp_path / "saw-3.csv", records[: len(records) - len(later)])
    archive = tmp_path / "history"
    with following(log, archive) as process, served(dashboards.create_app(Archive(archive))) as address:
        opened.goto(address)  # nothing is in the archive yet: who follows comes first
        wait_for_title(opened, "SAW-3, as it runs")
        wait_for_text(opened, ids.NOW, "Followed. ")
        assert "None yet." in opened.inner_text(f"#{shell.CONTENT}")
        opened.evaluate("window.stays = true")

        whole = write_log(tmp_path / "whole.csv", records).read_bytes()
        with log.open("ab") as file:
            file.write(whole[log.stat().st_size :] + b"2026-03-02T06:01:30Z,stop.emergency,0\n")
        opened.wait_for_selector(".told > li:has-text('Hoist: drop-out')")
        wait_for_text(opened, ids.HEARD, "New finding: Hoist: drop-out, asks for: repair.")
        wait_for_text(opened, ids.NOW, "1 repair")
        assert opened.evaluate("window.stays")

        # nobody looks; then somebody does again
        opened.evaluate(
            """() => { Object.defineProperty(document, "hidden", { get: () => window.away }); window.away = true; }"""
        )
        settle(opened)  # what was asked is answered
        assert asks(opened, asked, 3) == 0
        with opened.expect_request(lambda request: request.url.startswith(address)):
            opened.evaluate("window.away = false; document.dispatchEvent(new Event('visibilitychange'))")

        opened.click(".told a:text-is('its signals')")
        wait_for_title(opened, "Review of SAW-3")
        wait_for_text(opened, review.CHOSEN_TITLE, "drop-out, hoist: 1 of 1")
        opened.wait_for_function("location.search.includes('number=1') && !location.search.includes('at=')")
        opened.go_back()
        wait_for_title(opened, "SAW-3, as it runs")

        process.terminate()
        wait_for_text(opened, ids.NOW, "Somebody ended it")
        opened.wait_for_selector(f"#{ids.AGAIN}:visible")
        settle(opened)
        assert asks(opened, asked, 3) == 0
        assert process.wait(SOON_S) == 0
    assert complaints == []
    assert all(url.startswith((address, "data:", "blob:")) for url in asked)


def test_everybody_can_use_it_and_a_hostile_log_is_only_text(tmp_path: Path, page: Opened) -> None:
    opened, complaints, _ = page
    now = int(time.time()) // 60
    told = (
        message(1, signal=HOSTILE),
        message(2, start=at(500), end=at(501)),
        message(3, "withdrawn", HOSTILE, start=at(500), end=at(501)),
        message(4, pattern="overload_trip", signal=ALL[0], start=at(700), end=at(702)),
    )
    given = {"at": at(0), "notes": noted(HOSTILE, "The record has a gap there."), "noted": 2}
    followed(tmp_path, messages=told, minutes=((now - 3, 5), (now - 1, 0)), **given)  # who has long been silent
    followed(tmp_path, "dock", machine="DOCK-5", source=f"mqtt://{HOSTILE}", ended=True, why=HOSTILE)
    (tmp_path / "following" / "broken").mkdir()
    (tmp_path / "following" / "broken" / word.WORD).write_text("{")
    with served(dashboards.create_app(Archive(tmp_path))) as address:
        for path, title in (("/live?machine=SAW-3", "SAW-3, as it runs"), ("/live", "Machines as they run")):
            opened.set_viewport_size({"width": 1440, "height": 1000})
            opened.goto(address + path)
            wait_for_title(opened, title)
            settle(opened)
            for _ in range(2):  # light and dark
                assert violations(opened) == []
                opened.click(f"#{shell.SWITCH}")
                settle(opened)
            for width in (390, 320):
                opened.set_viewport_size({"width": width, "height": 800})
                settle(opened)
                assert opened.evaluate("document.documentElement.scrollWidth") <= width
                assert opened.evaluate(SMALL) == []
            assert HOSTILE in opened.inner_text(f"#{shell.CONTENT}")
            assert opened.locator("main img").count() == 0
            assert "Nobody follows any more" in opened.inner_text(f"#{shell.CONTENT}")
    assert complaints == []
