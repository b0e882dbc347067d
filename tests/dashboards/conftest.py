"""A browser for the tests of a module, and a page of it for each test: beginning one takes longer than most tests."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.dashboards.browser import Opened, begun, cleared, page_of


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Not for longer than a module: while one runs, nothing else of its thread may run a loop of asyncio."""
    with begun() as found:
        yield found


@pytest.fixture
def page(browser: Browser) -> Iterator[Opened]:
    """A page with what it complained of and where it asked; it knows nothing of other tests."""
    with page_of(browser) as opened:
        yield opened


@pytest.fixture(scope="module")
def used(browser: Browser) -> Iterator[Opened]:
    """The page behind `visited`."""
    with page_of(browser) as opened:
        yield opened


@pytest.fixture
def visited(used: Opened) -> Opened:
    """A page at which other tests of the module have been, for those that open an address and look: compiling the
    scripts takes half of the time of a page that is new."""
    return cleared(used)
