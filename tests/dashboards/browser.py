"""A browser for the tests, and a server on a free port of this computer."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import pytest
from playwright.sync_api import Browser, Page, Request, ViewportSize, sync_playwright

CHROMIUM = Path("/usr/bin/chromium")
NOT_USED = (
    # lists that drop from the address line are pages themselves, loaded anew with every window: half a second each
    "WebUIOmniboxPopup",
    "WebUIOmniboxAimPopup",
    # what the driver leaves out as well; of two lists the browser takes the last
    "AimEnabled",
    "AvoidCorsURLLoaderRestartOnRedirect",
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsFirstBalancedModeAutoEnable",
    "HttpsUpgrades",
    "LensOverlay",
    "MediaRouter",
    "NetworkTimeServiceQuerying",
    "OptimizationHints",
    "PaintHolding",
    "PreconnectToSearch",
    "ThirdPartyStoragePartitioning",
)
"""Parts of a browser that nobody sees without a screen, or that ask others."""
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--in-process-gpu",  # no process more for drawing, which is done without such a device anyway
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--disable-features={','.join(NOT_USED)}",
]

Opened = tuple[Page, list[str], list[str]]
"""A page, what it complained of, and where it asked."""
SCREEN: ViewportSize = {"width": 1440, "height": 1000}
SETTLED_WITHIN_S = 60.0
"""Only a test that fails waits for all of it."""
CHANGES = """() => new Promise(done => {
    let changes = 0;
    const seen = new MutationObserver(all => { changes += all.length; });
    seen.observe(document, {subtree: true, childList: true, attributes: true, characterData: true});
    const idle = then => requestAnimationFrame(() => requestIdleCallback(then));
    idle(() => setTimeout(() => idle(() => { seen.disconnect(); done(changes); }), 300));
})"""
"""How much of a page changes until it was idle twice; between lies more than the longest timer of its own scripts
(250 ms, assets/page.js)."""
_under_way: WeakKeyDictionary[Page, set[Request]] = WeakKeyDictionary()


@contextmanager
def served(app: Any) -> Iterator[str]:
    """The address of an application that is served as long as it is needed."""
    from waitress.server import create_server

    server = create_server(app.server, host="127.0.0.1", port=0, threads=8)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    thread.join(0.5)  # a page that is still open keeps it until that is closed


@contextmanager
def begun() -> Iterator[Browser]:
    """A browser without a page. Only one at a time in a thread."""
    if not CHROMIUM.exists():
        pytest.fail(f"wanted a Chromium at {CHROMIUM}, got none; install Debian's package 'chromium'")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@contextmanager
def page_of(browser: Browser) -> Iterator[Opened]:
    """A page as of a browser that was just begun: nothing is kept of earlier pages. Closed with all beside it."""
    complaints: list[str] = []
    asked: list[str] = []
    before = browser.contexts
    opened = browser.new_page(viewport=SCREEN)
    opened.on("console", lambda told: complaints.append(told.text) if told.type in ("error", "warning") else None)
    opened.on("pageerror", lambda fault: complaints.append(str(fault)))
    opened.on("request", lambda request: asked.append(request.url))
    under_way = _under_way[opened] = set()
    opened.on("request", lambda request: under_way.add(request))
    opened.on("requestfinished", lambda request: under_way.discard(request))
    opened.on("requestfailed", lambda request: under_way.discard(request))
    yield opened, complaints, asked
    for context in browser.contexts:
        if context not in before:
            context.close()


@contextmanager
def browsing() -> Iterator[Opened]:
    """A page in a browser of its own."""
    with begun() as browser, page_of(browser) as opened:
        yield opened


def settle(page: Page) -> None:
    """Waits until the page has nothing more to do: it waits for no answer, is idle and does not change any more."""
    until = time.monotonic() + SETTLED_WITHIN_S
    while page.evaluate(CHANGES) or _under_way[page]:
        assert time.monotonic() < until, [request.url for request in _under_way[page]]


def cleared(opened: Opened) -> Opened:
    """A page that was used before as a new one: nothing is kept but the scripts, which are not compiled again."""
    page, complaints, asked = opened
    if page.url.startswith("http"):
        settle(page)  # what is broken off would be complained of at the next address
        page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
    page.context.clear_cookies()
    page.set_viewport_size(SCREEN)
    page.emulate_media(media="null", color_scheme="null")
    complaints.clear()
    asked.clear()
    return opened
