"""A browser for the tests, and a server on a free port of this computer."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

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


@contextmanager
def served(app: Any) -> Iterator[str]:
    """The address of an application that is served as long as it is needed."""
    from waitress.server import create_server

    server = create_server(app.server, host="127.0.0.1", port=0, threads=8)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    thread.join(5)


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
    opened = browser.new_page(viewport={"width": 1440, "height": 1000})
    opened.on("console", lambda told: complaints.append(told.text) if told.type in ("error", "warning") else None)
    opened.on("pageerror", lambda fault: complaints.append(str(fault)))
    opened.on("request", lambda request: asked.append(request.url))
    yield opened, complaints, asked
    for context in browser.contexts:
        context.close()


@contextmanager
def browsing() -> Iterator[Opened]:
    """A page in a browser of its own."""
    with begun() as browser, page_of(browser) as opened:
        yield opened
